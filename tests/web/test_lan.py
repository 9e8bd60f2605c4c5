"""The written folder shown to a phone: by one address and a secret path, read only, for a while."""

from __future__ import annotations

import http.client
import json
import socket
import threading
import time
from contextlib import closing, contextmanager
from urllib.parse import urlsplit

import pytest
from starlette.datastructures import Headers

from reachmap.base.errors import MarkupError
from reachmap.web import lan
from reachmap.web.serve import new_token
from tests.cli.test_cli import run
from tests.markup.folders import make
from tests.web.editor.serving import running

HERE = "127.0.0.1"
"""Stands in for this computer's address in its network: no test is heard outside it."""


@pytest.fixture
def written(tmp_path):
    folder = tmp_path / "reach" / "written"
    for name in ("maps", "sheets", "gpx", "table", "gis", "cache"):
        (folder / name).mkdir(parents=True)
        (folder / name / "one.txt").write_text(name)
    (folder / "maps" / "index.html").write_text("all flows, with the log")
    (folder / "maps" / "2400cfs.html").write_text("one flow")
    (folder / "days.html").write_text("days")
    (folder.parent / "reach.toml").write_text("private")
    (folder / "maps" / "out").symlink_to(folder.parent / "reach.toml")
    told = {"log": {"trips": 3}, "flows": [{"label": "2400cfs"}, {"label": "<gone>"}]}
    (folder / "report.json").write_text(json.dumps(told))
    return folder


@contextmanager
def served(folder, **options):
    token = new_token()
    with running(lan.make_lan_view(folder, token, HERE, **options), token) as page:
        yield page


def ask(page, path, *, host=None, method="GET", headers=(), body=None, whole=False):
    """Ask with a path sent as it stands; `whole`: in place of the secret too."""
    parts = urlsplit(page.address)
    link = http.client.HTTPConnection(parts.hostname, parts.port, timeout=10)
    link.putrequest(method, path if whole else parts.path + path, skip_host=True)
    link.putheader("Host", host or parts.netloc)
    for name, value in headers:
        link.putheader(name, value)
    link.endheaders(body)
    answer = link.getresponse()
    read = answer.read()
    link.close()
    return answer.status, dict(answer.getheaders()), read


def test_maps_sheets_and_gps_files_are_shown_and_nothing_else(written):
    with served(written) as page:
        assert ask(page, "maps/2400cfs.html")[2] == b"one flow"
        assert ask(page, "sheets/one.txt")[2] == b"sheets"
        assert ask(page, "sheets/one.txt", method="HEAD")[::2] == (200, b"")
        for path in ("table/one.txt", "gis/one.txt", "cache/one.txt", "report.json", "days.html"):
            assert ask(page, path)[0] == 404
        for path in ("maps/", "maps", "sheets/"):  # no listing
            assert b"2400cfs" not in ask(page, path)[2]
            assert ask(page, path)[0] in (404, 307)


@pytest.mark.parametrize(
    "path",
    [
        "maps/../report.json",
        "maps/../../reach.toml",
        "maps/%2e%2e/%2e%2e/reach.toml",
        "maps/..%2f..%2freach.toml",
        "maps/..%5c..%5creach.toml",
        "maps//etc/passwd",
        "maps/out",
        "maps/%00",
        "../maps/2400cfs.html",
    ],
)
def test_nothing_outside_the_folders_can_be_reached(written, path):
    with served(written) as page:
        status, _, body = ask(page, path)
        assert status in (400, 404)
        assert b"private" not in body


def test_without_the_secret_there_is_nothing(written):
    with served(written) as page:
        other = f"/{new_token()}/maps/2400cfs.html"
        for path in ("/", "/maps/2400cfs.html", other, "/favicon.ico"):
            assert ask(page, path, whole=True)[0] == 404


@pytest.mark.parametrize("host", ["example.org", "localhost", "127.0.0.1.example.org", "[::1]"])
def test_another_name_pointed_here_is_turned_away(written, host):
    with served(written) as page:
        assert ask(page, "maps/2400cfs.html", host=host)[0] == 421


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_only_reading_is_answered(written, method):
    with served(written) as page:
        origin = f"http://{urlsplit(page.address).netloc}"  # not even from its own page
        headers = [("Origin", origin), ("Content-Length", "2")]
        assert ask(page, "maps/2400cfs.html", method=method, headers=headers, body=b"{}")[0] == 405
        headers = [("Content-Length", "2")]
        assert ask(page, "maps/2400cfs.html", headers=headers, body=b"{}")[0] == 413


def test_the_guard_itself_refuses_changes_whatever_stands_behind_it(written):
    guard = lan.make_lan_view(written, "secret", HERE)
    own = Headers({"host": HERE, "origin": f"http://{HERE}", "content-length": "0"})
    assert guard.refusal("POST", "/secret/", own)[0] == 405
    assert guard.refusal("GET", "/secret/", own) is None


@pytest.mark.parametrize("path", ["maps/index.html", "maps/./index.html", "maps//index.html"])
def test_the_page_with_the_log_is_left_out_unless_it_is_asked_for(written, path):
    with served(written) as page:
        assert b"log" not in ask(page, path)[2]
        assert ask(page, path)[0] == 404
        first = ask(page, "")[2].decode()
        assert "/maps/2400cfs.html" in first
        assert "gone" not in first
        assert "People drown wading" in first
    with served(written, with_log=True) as page:
        assert ask(page, "maps/index.html")[2] == b"all flows, with the log"
        assert ask(page, "")[1]["location"].endswith("/maps/index.html")


def test_a_page_without_a_log_is_the_first(written):
    (written / "report.json").write_text(json.dumps({"flows": []}))
    with served(written) as page:
        assert ask(page, "")[1]["location"].endswith("/maps/index.html")
        assert ask(page, "maps/index.html")[0] == 200


def test_a_folder_that_says_nothing_is_taken_to_hold_a_log(written):
    (written / "report.json").unlink()
    assert lan.holds_log(written)


def test_the_installable_page_comes_first_where_it_was_written(written):
    (written / "site").mkdir()
    (written / "site" / "index.html").write_text("site")
    with served(written) as page:
        assert ask(page, "")[1]["location"].endswith("/site/index.html")
        assert ask(page, "site/index.html")[2] == b"site"


def lasting(written, hours, told, codes):
    lan.serve_lan(
        written.parent,
        written,
        port=0,
        hours=hours,
        address=HERE,
        with_log=False,
        tell=told.append,
        show=codes.append,
    )


def test_it_stops_by_itself(written):
    told, codes = [], []
    thread = threading.Thread(target=lasting, args=(written, 3 / 3600, told, codes), daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not told and time.monotonic() < until:
        time.sleep(0.05)
    address = urlsplit(told[0].split(": ", 1)[1])
    link = http.client.HTTPConnection(address.hostname, address.port, timeout=10)
    with closing(link):
        link.request("GET", f"{address.path}maps/2400cfs.html")
        assert link.getresponse().read() == b"one flow"
    thread.join(timeout=30)
    assert not thread.is_alive()
    assert told[-1].startswith("Stopped")
    assert "left out: --with-log shows it" in told[-2]
    assert len(codes) == 1
    with pytest.raises(OSError):  # noqa: PT011 - refused, in this system's words
        socket.create_connection((address.hostname, address.port), timeout=2)


def test_an_address_of_another_computer_is_told(written):
    with pytest.raises(MarkupError, match="port 0"):
        lan.serve_lan(
            written.parent,
            written,
            port=0,
            hours=1,
            address="192.0.2.7",
            with_log=False,
            tell=print,
            show=print,
        )


def test_in_no_network_the_command_says_so(monkeypatch):
    monkeypatch.setattr(lan, "NOWHERE", ("127.0.0.1", 9))
    with pytest.raises(MarkupError, match="in no network"):
        lan.lan_address()


def test_without_a_build_nothing_is_served(tmp_path):
    done = run("view", make(tmp_path / "reach"), "--lan")
    assert done.returncode == 2
    assert "no maps are there" in done.stderr
