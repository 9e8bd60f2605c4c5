"""Who may ask the local server, how much may be sent, and what comes with every answer."""

import json
import socket

import pytest
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from reachmap.markup.board.guard import MOST_BYTES
from tests.markup.board.folders import body, river
from tests.markup.board.serving import serving


async def _echo(request):
    return PlainTextResponse((await request.body()).decode() or request.method)


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    extra = [Route("/log", _echo, methods=["GET", "POST"])]
    folder = tmp_path_factory.mktemp("guard") / "home"
    with serving(folder, extra_routes=extra, links=[("log", "Trip <log>")]) as one:
        yield one


def test_the_page_comes_with_its_headers(served):
    status, headers, page = served.ask("")
    assert status == 200
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cache-Control"] == "no-store"
    assert b"<script>" not in page
    assert b" style=" not in page
    assert b'href="log">Trip &lt;log&gt;</a>' in page


@pytest.mark.parametrize("path", ["", "drawing", "check", "page/start.js", "log", "relief.webp"])
def test_without_the_token_nothing_is_there(served, path):
    for wrong in ("", "x/", served.address.split("/")[3][:-1] + "/"):
        stranger = type(served)(served.origin + "/" + wrong)
        status, _, answer = stranger.ask(path)
        assert status == 404
        assert b"Open the address" in answer


@pytest.mark.parametrize("host", ["rebound.example", "127.0.0.1.example:80", "192.168.0.7", ""])
@pytest.mark.parametrize("path", ["", "drawing", "log"])
def test_another_host_is_turned_away(served, host, path):
    assert served.ask(path, headers={"Host": host})[0] in (400, 421)


@pytest.mark.parametrize(
    "path", ["drawing", "facts", "beneath", "picture", "take-in", "strip", "reload", "log"]
)
@pytest.mark.parametrize("origin", [None, "null", "http://evil.example", "http://127.0.0.1:1"])
def test_a_change_from_another_page_is_turned_away(served, path, origin):
    before = served.told("state")
    sent = json.dumps(body([river()])).encode()
    headers = {} if origin is None else {"Origin": origin}
    stranger = type(served)(served.address)
    request_headers = {"Origin": "", **headers} if origin is None else headers
    status, _, answer = stranger.ask(path, body=sent, headers=request_headers)
    assert status == 403
    assert b"own page" in answer
    assert served.told("state") == before


def test_what_is_too_large_is_refused_before_it_is_read(served):
    status, _, answer = _raw(served, "drawing", f"Content-Length: {MOST_BYTES + 1}")
    assert status == 413
    assert b"too large" in answer


def test_a_body_of_unknown_length_is_refused(served):
    assert _raw(served, "log", "Transfer-Encoding: chunked")[0] == 411


def test_the_pages_of_other_floors_stand_behind_the_same_guard(served):
    assert served.ask("log")[2] == b"GET"
    assert served.ask("log", body=b"an entry")[2] == b"an entry"
    assert "default-src 'none'" in served.ask("log")[1]["Content-Security-Policy"]


@pytest.mark.parametrize(
    "name",
    ["shell.html", "../app.py", "..%2Fapp.py", "%2e%2e/store.py", "start.py", ".js", "nothing.css"],
)
def test_only_the_pages_own_parts_are_given_out(served, name):
    assert served.ask(f"page/{name}")[0] == 404


@pytest.mark.parametrize("name", ["../markup.gpkg", "..%2Freach.toml", "picture-00000000.png"])
def test_only_kept_pictures_are_given_out(served, name):
    assert served.ask(f"picture/{name}")[0] == 404


def test_it_listens_on_this_computer_only(served):
    port = int(served.origin.rsplit(":", 1)[1])
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    for address in others - {"127.0.0.1"}:
        with socket.socket() as knock:
            knock.settimeout(1)
            assert knock.connect_ex((address, port)) != 0 or address.startswith("127.")


def _raw(served, path, header):
    """Send only the head of a request and return status, head and body of the answer."""
    host, port = served.origin.removeprefix("http://").split(":")
    token = served.address.split("/")[3]
    with socket.create_connection((host, int(port)), timeout=5) as line:
        line.sendall(
            f"POST /{token}/{path} HTTP/1.1\r\nHost: {host}:{port}\r\n"
            f"Origin: {served.origin}\r\n{header}\r\nConnection: close\r\n\r\n".encode()
        )
        answer = b""
        while part := line.recv(65536):
            answer += part
    head, _, rest = answer.partition(b"\r\n\r\n")
    return int(head.split()[1]), head, rest
