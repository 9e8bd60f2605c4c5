"""The map renewed while the river is drawn: what is served, to whom, and what the page says."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from types import SimpleNamespace

import pytest
from playwright.sync_api import expect
from typer.testing import CliRunner

from reachmap.base.errors import Fault
from reachmap.cli.app import app
from reachmap.outputs.write import write_all
from reachmap.pipeline.watching import State
from reachmap.text import watched
from reachmap.web import viewer
from reachmap.web.serve import new_token
from reachmap.web.watch.serve import make_watched
from tests.browser import running_browser, watched_page
from tests.markup.folders import make
from tests.outputs.made_product import made_product
from tests.web.editor.serving import running
from tests.web.test_viewer import status_of


@pytest.fixture(scope="module")
def reach(tmp_path_factory):
    folder = make(tmp_path_factory.mktemp("watched") / "reach")
    write_all(made_product(), folder / "written")
    return folder


@contextmanager
def served(folder, state=State(number=1)):  # noqa: B008
    watch = SimpleNamespace(folder=folder, out=folder / "written", state=state)
    token = new_token()
    with running(make_watched(watch, token), token) as page:
        yield page, watch


def test_the_state_says_how_far_it_is(reach):
    with served(reach) as (page, watch):
        told = page.told("state")
        assert told["line"] == watched.NOW
        assert told["page"] == "maps/index.html?form=log"
        watch.state = State(number=1, busy=True, step="the ground")
        assert page.told("state")["line"] == f"Building: the ground. {watched.STILL}"
        fault = Fault("river", "is missing", "Draw it")
        watch.state = State(number=1, heading="1 thing to put right:", faults=(fault,))
        told = page.told("state")
        assert told["line"].startswith(watched.LAST)
        assert (told["heading"], told["faults"]) == ("1 thing to put right:", [str(fault)])


def test_before_the_first_build_no_map_is_led_to(tmp_path):
    with served(make(tmp_path / "reach"), State(busy=True, step="the ground")) as (page, _):
        told = page.told("state")
        assert told["page"] == ""
        assert watched.FIRST in told["line"]
        assert page.ask("maps/index.html")[0] == 404


def test_only_pages_of_this_server_may_frame_one_another(reach):
    with served(reach) as (page, _):
        for path in ("", "state", "maps/index.html", "log"):
            status, headers, _ = status_of(page, path)
            assert status == 200, path
            assert headers["x-frame-options"] == "SAMEORIGIN"
            assert "frame-ancestors 'self'" in headers["content-security-policy"]
            frames = "frame-src 'self'" in headers["content-security-policy"]
            assert frames is (path == "")
        assert status_of(page, "", host="elsewhere.example")[0] == 421
        assert page.ask("../x/state")[0] == 404
        assert page.ask("maps/index.html", b"x", headers={"Origin": "http://e"})[0] == 403
    token = new_token()
    with running(viewer.make_view(reach / "written", token), token) as plain:
        headers = status_of(plain, "maps/index.html")[1]
        assert headers["x-frame-options"] == "DENY"
        assert "frame-ancestors 'none'" in headers["content-security-policy"]


def test_files_are_served_as_they_were_written(reach):
    with served(reach) as (page, _):
        for path in ("maps/index.html", "sheets/1200cfs.html", "gpx/all.gpx"):
            body = status_of(page, path)[2]
            assert body == (reach / "written" / path).read_bytes()
            assert b"watch" not in body.replace(b"watched", b"").lower() or path.endswith("html")
        index = (reach / "written" / "maps" / "index.html").read_text()
        assert "watch.js" not in index
        assert status_of(page, "cache/ground.nc")[0] == 404
        assert status_of(page, "report.json")[0] == 404


def test_watching_and_showing_a_phone_do_not_go_together(reach):
    told = CliRunner().invoke(app, ["view", str(reach), "--watch", "--lan"])
    assert told.exit_code != 0
    assert "they do not go together" in str(told.exception)


@pytest.mark.browser
@pytest.mark.slow
def test_the_page_shows_faults_and_loads_the_next_map(reach):
    index = reach / "written" / "maps" / "index.html"
    with (
        served(reach) as (page, watch),
        running_browser() as browser,
        watched_page(browser, offline=False) as open_page,
    ):
        tab = open_page.page
        tab.goto(page.address)
        expect(tab.locator("#watch-line")).to_have_text(watched.NOW)
        shown = tab.frame_locator("#watch-map").locator("html")
        expect(shown).not_to_have_attribute("data-number", "2")
        fault = Fault("river", "is missing", "Draw it")
        watch.state = replace(watch.state, heading="1 thing to put right:", faults=(fault,))
        expect(tab.locator("#watch-list li")).to_have_text(str(fault))
        text = index.read_text()
        index.write_text(text.replace("<html", '<html data-number="2"', 1))
        watch.state = State(number=2)
        expect(shown).to_have_attribute("data-number", "2")
        expect(tab.locator("#watch-faults")).to_be_hidden()
        index.write_text(text)
        assert open_page.messages == []
        assert all(one.startswith(page.address) for one in open_page.requests)
