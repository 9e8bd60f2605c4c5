"""The log's form as the commands serve it: alone, and beside the drawing page."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from reachmap.base.errors import MarkupError
from reachmap.logbook.store import kept_in
from reachmap.web import serve
from reachmap.web.editor.app import make_app
from reachmap.web.editor.serve import serve_editor
from reachmap.web.serve import new_token
from reachmap.web.trip_form.serve import (
    LINK,
    built_runs,
    form_routes,
    serve_form,
    trip_form_context,
)
from tests.browser import PHONE, running_browser, watched_page
from tests.markup.folders import make
from tests.web.editor.serving import LIBRARY, running

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent otherwise there")
def test_the_command_serves_the_form_until_it_is_told_to_stop(tmp_path):
    folder = make(tmp_path / "reach")
    command = [sys.executable, "-m", "reachmap", "log", str(folder), "form", "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
        try:
            assert process.stdout is not None
            told = process.stdout.readline()
            address = re.search(r"http://127\.0\.0\.1:\d+/\S+/log", told)
            assert address, told
            with urllib.request.urlopen(address[0], timeout=20) as answer:
                assert b"Log a trip" in answer.read()
            process.send_signal(signal.SIGINT)
            assert process.wait(20) == 0
        finally:
            process.kill()


def test_a_folder_that_is_none_is_told(tmp_path):
    with pytest.raises(MarkupError, match="no such folder"):
        serve_form(tmp_path / "none", port=0, tell=print, browse=None)


def test_before_the_first_build_the_drawn_runs_are_offered(tmp_path):
    assert trip_form_context(make(tmp_path / "reach")).runs() == ["Bar run", "Alder run"]
    assert trip_form_context(tmp_path / "none").runs() == []


def test_runs_are_those_of_the_last_build(tmp_path):
    assert built_runs(tmp_path) == []
    (tmp_path / "written").mkdir()
    rows = [{"run": name} for name in ("Upper", "Upper", "Ledge")]
    (tmp_path / "written" / "report.json").write_text(json.dumps({"runs_by_flow": rows}))
    assert built_runs(tmp_path) == ["Upper", "Ledge"]


@pytest.mark.browser
def test_from_the_drawing_page_to_the_log_and_back(tmp_path):
    folder = make(tmp_path / "reach")
    token = new_token()
    app = make_app(
        folder,
        library=LIBRARY,
        token=token,
        extra_routes=form_routes(folder, home="./"),
        links=(LINK,),
    )
    with (
        running(app, token) as served,
        running_browser() as browser,
        watched_page(browser, PHONE, offline=False) as watched,
    ):
        page = watched.page
        page.goto(served.address)
        page.wait_for_selector("html[data-ready]")
        page.click("text=Trip log")
        page.wait_for_selector("html.scripted")
        page.fill("[name=run]", "Upper bar")
        page.fill("[name=flow]", "28")
        page.click(".main")
        page.wait_for_selector(".kept h2")
        page.click("nav >> text=Draw")
        page.wait_for_selector("html[data-ready]")
        assert watched.messages == []
    (entry,) = kept_in(folder)
    assert (entry.run, entry.flow) == ("Upper bar", 28.0)  # the folder counts in m3/s


def test_the_mark_command_mounts_it(tmp_path, monkeypatch):
    seen = {}

    def keep_app(app, _place, _ready):
        seen["app"] = app

    monkeypatch.setattr(serve, "new_token", lambda: "token")
    monkeypatch.setattr(serve, "serve", keep_app)
    serve_editor(make(tmp_path / "reach"), port=0, tell=print, browse=None)
    with running(seen["app"], "token") as served:
        assert served.ask("log")[0] == 200
        assert b"Trip log" in served.ask("")[2]
