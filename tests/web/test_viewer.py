"""The written folder served on this computer: what is shown, to whom, and nothing else."""

from __future__ import annotations

import http.client
import shutil
import threading
from contextlib import contextmanager
from urllib.parse import urlsplit

import pytest

from reachmap.base.errors import MarkupError
from reachmap.outputs.write import write_all
from reachmap.web import serve, viewer
from reachmap.web.serve import new_token
from tests.browser import running_browser, watched_page
from tests.markup.folders import make
from tests.outputs.made_product import made_product
from tests.web.editor.serving import running


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reach") / "written"
    write_all(made_product(), folder)
    (folder / "cache").mkdir()
    (folder / "cache" / "ground.nc").write_text("not for the browser")
    (folder.parent / "reach.toml").write_text("private")
    return folder


@contextmanager
def served(folder):
    token = new_token()
    with running(viewer.make_view(folder, token), token) as page:
        yield page


def status_of(page, path, *, host=None, method="GET"):
    """Ask with a path sent as it stands, which urllib would tidy."""
    parts = urlsplit(page.address)
    link = http.client.HTTPConnection(parts.hostname, parts.port, timeout=10)
    link.putrequest(method, parts.path + path, skip_host=True)
    link.putheader("Host", host or parts.netloc)
    link.endheaders()
    answer = link.getresponse()
    body = answer.read()
    link.close()
    return answer.status, dict(answer.getheaders()), body


def test_maps_sheets_and_files_are_served_and_never_kept_by_the_browser(written):
    with served(written) as page:
        for path in ("maps/index.html", "sheets/1200cfs.html", "gpx/all.gpx", "kml/all.kml"):
            status, headers, body = status_of(page, path)
            assert status == 200
            assert body == (written / path).read_bytes()
            assert headers["cache-control"] == "no-store"
            assert headers["x-content-type-options"] == "nosniff"
            assert "frame-ancestors 'none'" in headers["content-security-policy"]
        status, headers, _ = status_of(page, "")
        assert status == 307
        assert headers["location"].endswith("/maps/index.html")


def test_the_days_are_shown_where_they_were_written(written):
    with served(written) as page:
        assert status_of(page, "days.html")[0] == 404
        (written / "days.html").write_text("the coming days")
        assert status_of(page, "days.html")[2] == b"the coming days"
        assert status_of(page, "days.ics")[0] == 404
        (written / "days.html").unlink()


@pytest.mark.parametrize(
    "path",
    [
        "cache/ground.nc",
        "report.json",
        "maps/",
        "maps",
        "maps/../cache/ground.nc",
        "maps/%2e%2e/cache/ground.nc",
        "maps/..%2f..%2freach.toml",
        "../../reach.toml",
        "maps//etc/passwd",
    ],
)
def test_nothing_else_is_shown_and_nothing_listed(written, path):
    with served(written) as page:
        status, _, body = status_of(page, path)
        assert status in (404, 405, 307)
        assert b"private" not in body
        assert b"not for the browser" not in body
        assert b"index.html" not in body


def test_a_link_out_of_the_folder_is_not_followed(written):
    link = written / "maps" / "out.html"
    link.symlink_to(written.parent / "reach.toml")
    try:
        with served(written) as page:
            assert status_of(page, "maps/out.html")[0] == 404
    finally:
        link.unlink()


def test_other_names_of_this_computer_other_tokens_and_changes_are_turned_away(written):
    with served(written) as page:
        assert status_of(page, "maps/index.html", host="river.example.org")[0] == 421
        assert status_of(page, "../wrong/maps/index.html")[0] == 404
        assert status_of(page, "maps/index.html", method="PUT")[0] in (403, 405, 411)
        assert status_of(page, "maps/index.html", method="HEAD")[2] == b""


def test_a_folder_without_maps_is_told(tmp_path):
    with pytest.raises(MarkupError, match="reachmap build"):
        viewer.serve_viewer(tmp_path, None, port=0, tell=print, browse=None)


def test_the_page_is_opened_unless_told_not_to(written, monkeypatch):
    monkeypatch.setattr(serve, "serve", lambda _app, _place, ready: ready())
    for browser in (True, False):
        asked: list[str] = []
        told: list[str] = []
        browse = asked.append if browser else None
        viewer.serve_viewer(written.parent, None, port=0, tell=told.append, browse=browse)
        assert len(asked) == browser
        assert all(address.startswith("http://127.0.0.1:") for address in asked)
        assert told[0].startswith("Look here: http://127.0.0.1:")
        assert told[0].endswith("/maps/index.html?form=log")
        assert told[1:] == ["Only this computer can open it. Ctrl-C here ends it."]


def test_what_was_built_last_is_shown_and_an_interrupted_build_is_settled(
    written, tmp_path, monkeypatch
):
    home = tmp_path / "home"
    for name in ("written", "written-quick"):
        shutil.copytree(written, home / name)
    (home / "written" / "report.json").write_text('{"built_utc": "2001-01-01T00:00:00+00:00"}')
    (home / "written").rename(home / ".written-old")  # killed before the second rename
    shown, told = [], []
    monkeypatch.setattr(viewer, "make_view", lambda folder, _token, **_: shown.append(folder))
    monkeypatch.setattr(viewer, "serve_until_stopped", lambda *_, **__: None)
    viewer.serve_viewer(home, None, port=0, tell=told.append, browse=None)
    assert "written-quick" in told.pop()
    viewer.serve_viewer(home, home / "written", port=0, tell=told.append, browse=None)
    assert told == []
    assert shown == [home / "written-quick", home / "written"]
    assert not (home / ".written-old").exists()


def test_a_taken_port_is_told(written):
    place = serve.listen(0)
    place.listen()
    port = place.getsockname()[1]
    with place, pytest.raises(MarkupError, match="--port"):
        viewer.serve_viewer(written.parent, None, port=port, tell=print, browse=None)
    assert threading.active_count() >= 1


@pytest.mark.browser
def test_a_served_map_works_as_the_file_does(written):
    with (
        served(written) as page,
        running_browser() as browser,
        watched_page(browser, offline=False) as watched,
    ):
        watched.page.goto(page.address)
        watched.page.wait_for_selector("html[data-reach=ready]", state="attached")
        assert watched.page.url.split("#")[0].endswith("/maps/index.html")
        hosts = {urlsplit(url).netloc for url in watched.requests}
        assert hosts == {urlsplit(page.address).netloc}
        assert watched.messages == []


@pytest.mark.browser
def test_the_trip_form_is_served_beside_the_maps(tmp_path, written):
    reach = make(tmp_path / "reach")
    token = new_token()
    with running(viewer.make_view(written, token, reach=reach), token) as page:
        assert status_of(page, "")[1]["location"].endswith("/maps/index.html?form=log")
        status, headers, body = status_of(page, "log")
        assert status == 200
        assert b"<form" in body
        assert "default-src 'none'" in headers["content-security-policy"]  # the form's own
        assert status_of(page, "maps/index.html")[0] == 200
        with running_browser() as browser, watched_page(browser, offline=False) as watched:
            watched.page.goto(page.address)
            watched.page.wait_for_selector("html[data-reach=ready]", state="attached")
            watched.page.click("#note-button")
            watched.page.click("text=Log a whole trip")
            watched.page.wait_for_selector("form [name=touches]")
            assert watched.messages == []


def test_without_a_reach_folder_there_is_no_form(written):
    with served(written) as page:
        assert status_of(page, "log")[0] == 404
        assert status_of(page, "")[1]["location"].endswith("/maps/index.html")
