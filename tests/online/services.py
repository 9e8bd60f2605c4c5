"""Recorded answers of public services, served on this computer, and the libraries led to them.

Each library makes its request as it would: only the last step, the connection, is turned to the
server here, so that addresses, queries and answers go through the library's own doors. What was
asked for is kept. Where the answers' shapes come from: data/README.md.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import aiohttp
import httpx
import pytest
import requests

PROXIES = [f"{scheme}_proxy" for scheme in ("http", "https", "all")]


@dataclass
class Asked:
    """A request: its host, path, query and body, and which bytes of a file it wants."""

    host: str
    path: str
    query: dict[str, list[str]]
    body: bytes = b""
    wanted: str = ""


@dataclass
class Answer:
    """An answer; `cut` sends so many bytes of it and then hangs up."""

    body: bytes = b""
    kind: str = "application/json"
    status: int = 200
    mark: str = ""
    cut: int = 0


@dataclass
class Services:
    """The server: answers by host and path, and everything that was asked for."""

    answers: dict[str, Callable[[Asked], Answer]] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)

    def answer(self, asked: Asked) -> Answer:
        self.asked.append(asked)
        place = f"{asked.host}{asked.path}"
        known = [begin for begin in self.answers if place.startswith(begin)]
        if not known:
            return Answer(b"nothing here", "text/plain", 404)
        return self.answers[max(known, key=len)](asked)

    def of(self, host: str) -> list[Asked]:
        return [one for one in self.asked if one.host == host]


def _handler(services: Services) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self):
            self._answer()

        def do_POST(self):
            self._answer()

        def _answer(self):
            parts = urlsplit(self.path)
            _, host, *rest = parts.path.split("/")
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            asked = Asked(
                host, "/" + "/".join(rest), parse_qs(parts.query), body,
                self.headers.get("Range", ""),
            )  # fmt: skip
            made = services.answer(asked)
            whole, status, start = made.body, made.status, 0
            begin = asked.wanted.removeprefix("bytes=").partition("-")[0]
            same = self.headers.get("If-Range", "") == made.mark != ""
            if begin.isdigit() and same and status == 200:
                status, start = 206, int(begin)
            sent = whole[start:]
            self.send_response(status)
            self.send_header("Content-Type", made.kind)
            self.send_header("Content-Length", str(len(sent)))
            if made.mark:
                self.send_header("ETag", made.mark)
            self.end_headers()
            self.wfile.write(sent[: made.cut] if made.cut else sent)
            if made.cut:
                self.wfile.flush()
                self.close_connection = True

        def log_message(self, *_said):
            """Say nothing."""

    return Handler


@contextmanager
def serving(monkeypatch: pytest.MonkeyPatch) -> Iterator[Services]:
    """Serve answers, and lead every library's connections to them."""
    services = Services()
    server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(services))
    server.daemon_threads, server.block_on_close = True, False  # connections are kept open
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    here = f"http://127.0.0.1:{server.server_port}"
    for name in PROXIES:
        monkeypatch.delenv(name, raising=False)
        monkeypatch.delenv(name.upper(), raising=False)

    def led(address: str) -> str:
        parts = urlsplit(str(address))
        query = f"?{parts.query}" if parts.query else ""
        return f"{here}/{parts.hostname}{parts.path}{query}"

    _lead_httpx(monkeypatch, led)
    _lead_aiohttp(monkeypatch, led)
    _lead_requests(monkeypatch, led)
    try:
        yield services
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def _lead_httpx(monkeypatch, led):
    plain, later = (
        httpx.HTTPTransport.handle_request,
        httpx.AsyncHTTPTransport.handle_async_request,
    )

    def turned(request):
        headers = request.headers.raw
        return httpx.Request(
            request.method, led(request.url), headers=headers, stream=request.stream,
            extensions=request.extensions,
        )  # fmt: skip

    async def handle_async(self, request):
        return await later(self, turned(request))

    monkeypatch.setattr(
        httpx.HTTPTransport, "handle_request", lambda self, request: plain(self, turned(request))
    )
    monkeypatch.setattr(httpx.AsyncHTTPTransport, "handle_async_request", handle_async)


def _lead_aiohttp(monkeypatch, led):
    plain = aiohttp.ClientSession._request

    async def request(self, method, url, **more):
        return await plain(self, method, led(str(url)), **more)

    monkeypatch.setattr(aiohttp.ClientSession, "_request", request)


def _lead_requests(monkeypatch, led):
    plain = requests.adapters.HTTPAdapter.send

    def send(self, request, **more):
        address = request.url
        request.url = led(address)
        answer = plain(self, request, **(more | {"proxies": {}}))
        answer.url = request.url = address
        return answer

    monkeypatch.setattr(requests.adapters.HTTPAdapter, "send", send)
