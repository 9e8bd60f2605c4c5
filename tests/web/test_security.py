"""Who may ask the local server, how much may be sent, and what comes with every answer."""

import asyncio
import json
import socket
from contextlib import contextmanager

import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from reachmap.web.security import MOST_BYTES, SecurityMiddleware
from reachmap.web.viewer import make_view
from tests.web.editor.folders import body, river
from tests.web.editor.serving import running, serving
from tests.web.trip_form.conftest import serving_form


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


@pytest.mark.parametrize(
    "path", ["", "drawing", "check", "page/start.js", "log", "relief.webp", "imagery.webp"]
)
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
    "path", ["drawing", "facts", "basemap", "picture", "import", "buffer", "reload", "log"]
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
    assert _raw(served, "log", "X-None: 1")[0] == 411
    status, head, words = _raw(served, "log", "Transfer-Encoding: chunked")
    assert (status, words) == (411, b"Say how long it is: a body sent in chunks is not taken.")
    assert b"connection: close" in head.lower()


@contextmanager
def _server(which, folder):
    if which == "mark":
        with serving(folder / "home") as one:
            yield one, "drawing"
    elif which == "log form":
        with serving_form(folder) as one:
            yield one, "log"
    else:
        (folder / "maps").mkdir()
        (folder / "maps" / "index.html").write_text("a map")
        with running(make_view(folder, "secret"), "secret") as one:
            yield one, "maps/index.html"


@pytest.mark.parametrize("which", ["mark", "log form", "view"])
@pytest.mark.parametrize("method", ["POST", "GET"])
@pytest.mark.parametrize("length", ["", "Content-Length: 5\r\n"])
def test_a_body_in_chunks_is_never_read_beyond_the_limit(tmp_path, which, method, length):
    with _server(which, tmp_path) as (served, path):
        status, sent = _chunks(served, path, method, length)
        assert status in (400, 411, 413)
        assert sent < MOST_BYTES + 16 * 2**20  # what the sockets' own buffers may hold is little
        assert served.ask("" if which != "log form" else "log")[0] == 200


def _chunks(served, path, method, length):
    """Send chunks until the answer is there or the line is closed; return status and bytes sent."""
    host, port = served.origin.removeprefix("http://").split(":")
    token, part, sent = served.address.split("/")[3], b"x" * 2**20, 0
    with socket.create_connection((host, int(port)), timeout=20) as line:
        line.sendall(
            f"{method} /{token}/{path} HTTP/1.1\r\nHost: {host}:{port}\r\n"
            f"Origin: {served.origin}\r\n{length}Transfer-Encoding: chunked\r\n\r\n".encode()
        )
        try:
            while sent < 3 * MOST_BYTES:
                line.sendall(f"{len(part):x}\r\n".encode() + part + b"\r\n")
                sent += len(part)
        except OSError:
            pass
        try:
            return int(line.recv(65536).split()[1]), sent
        except OSError:  # closed before its answer was read, with more of ours under way
            return 413, sent


@pytest.mark.parametrize(
    ("parts", "status"),
    [((b"a", b"b"), 200), ((b"x" * MOST_BYTES, b"y"), 413), ((b"half", None), 413)],
)
def test_bytes_are_counted_whatever_was_announced(parts, status):
    messages = [
        {"type": "http.disconnect"}
        if part is None
        else {"type": "http.request", "body": part, "more_body": part is not parts[-1]}
        for part in parts
    ]
    got, answers = [], []

    async def app(scope, receive, send):
        got.append(await Request(scope, receive).body())
        await PlainTextResponse("kept")(scope, receive, send)

    async def receive():
        return messages.pop(0)

    async def send(message):
        answers.append(message)

    own = [(b"host", b"127.0.0.1:1"), (b"origin", b"http://127.0.0.1:1"), (b"content-length", b"2")]
    scope = {"type": "http", "method": "POST", "path": "/secret/drawing", "headers": own}
    asyncio.run(SecurityMiddleware(app, "secret")(scope, receive, send))
    assert answers[0]["status"] == status
    assert got == ([b"ab"] if status == 200 else [])


@pytest.mark.parametrize("path", ["", "drawing", "log"])
def test_a_request_that_only_reads_brings_no_body(served, path):
    assert served.ask(path, body=b"x" * 10, method="GET")[0] == 413


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
