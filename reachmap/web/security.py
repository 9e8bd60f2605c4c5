"""Security middleware: host, token, origin and size checks, and the headers of every answer.

The server listens on this computer only. That keeps other computers out, not other web pages open
in the same browser, nor another name pointed at this computer. Hence: the host must be this one by
its plain name, the first part of the path must be the secret of this run, a request that
changes something must come from our own pages, and its size is limited.
"""

from __future__ import annotations

import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOSTS = frozenset({"127.0.0.1", "localhost"})
"""Names under which this server answers."""

MOST_BYTES = 32 * 1024 * 1024
"""Largest request body [bytes] (our choice: a large photo of a map)."""

TOO_LARGE = (413, f"That is too large: {MOST_BYTES // 1024**2} MB at most.")
"""Refusal of a body larger than `MOST_BYTES`, and of any body of a request that only reads."""

READING = frozenset({"GET", "HEAD"})
"""Methods that only read."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:{tiles}; "
    "connect-src 'self'; font-src 'none'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""Content security policy; `{tiles}` takes the origin of the angler's own tiles, if any."""

FRAMED_HERE = ("frame-ancestors 'none'", "frame-ancestors 'self'")
"""Policy part that forbids frames, and its replacement where this server's own pages may."""

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""Headers of every answer."""


class SecurityMiddleware:
    """Refuse every request that does not come from our own pages on this computer."""

    def __init__(
        self,
        app: ASGIApp,
        token: str,
        *,
        hosts: frozenset[str] = HOSTS,
        reads_only: bool = False,
        framed_here: bool = False,
    ) -> None:
        """Wrap an application.

        Parameters
        ----------
        app
            The wrapped application.
        token
            The secret first part of every path.
        hosts
            Names under which the server answers, without a port.
        reads_only
            Whether every method but `READING` is refused, wherever it comes from.
        framed_here
            Whether pages of this very server may show one another in a frame; no other page may.
        """
        self.framed_here = framed_here
        self.app = app
        self.token = token
        self.hosts = hosts
        self.reads_only = reads_only

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request to the application, or refuse it."""
        if scope["type"] != "http":
            return
        refusal = self.refusal(scope["method"], scope["path"], Headers(scope=scope))
        if refusal is None:
            body = await _whole_body(receive)
            refusal = TOO_LARGE if body is None else None
            receive = _replayed(body or b"", receive)
        answer = self.app if refusal is None else _refused(*refusal)

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Content-Security-Policy", POLICY.format(tiles=""))
                if self.framed_here:
                    headers["X-Frame-Options"] = "SAMEORIGIN"
                    policy = headers["Content-Security-Policy"]
                    headers["Content-Security-Policy"] = policy.replace(*FRAMED_HERE)
            await send(message)

        await answer(scope, receive, sent)

    def refusal(self, method: str, path: str, headers: Headers) -> tuple[int, str] | None:
        """Return a refusal as (status, words); None for a request to be answered."""
        host = headers.get("host", "")
        if host.rsplit(":", 1)[0] not in self.hosts:
            return 421, "This server answers on this computer only."
        first = path.lstrip("/").split("/", 1)[0]
        if not secrets.compare_digest(first.encode(), self.token.encode()):
            return 404, "Nothing is here. Open the address that reachmap printed."
        if "transfer-encoding" in headers:
            return 411, "Say how long it is: a body sent in chunks is not taken."
        if method in READING:
            return None if headers.get("content-length", "0") == "0" else TOO_LARGE
        if self.reads_only:
            return 405, "Nothing can be changed here."
        if headers.get("origin") != f"http://{host}":
            return 403, "Only reachmap's own page may change the drawing."
        return _too_much(headers.get("content-length"))


def _too_much(length: str | None) -> tuple[int, str] | None:
    """Return why a body is refused by its announced length; None where it is not."""
    if length is None or not length.isascii() or not length.isdigit():
        return 411, "Say how long it is."
    return TOO_LARGE if int(length) > MOST_BYTES else None


def _refused(status: int, words: str) -> PlainTextResponse:
    """Return a refusal after which the connection closes: what follows is not read."""
    return PlainTextResponse(words, status, {"Connection": "close"})


async def _whole_body(receive: Receive) -> bytes | None:
    """Return the body of a request; None if more than `MOST_BYTES` came, or its sender left.

    The bytes are counted, whatever length was announced.
    """
    parts, size = [], 0
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return None  # of a body cut short half a form would be stored
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        if size > MOST_BYTES:
            return None
        if not message.get("more_body", False):
            return b"".join(parts)


def _replayed(body: bytes, receive: Receive) -> Receive:
    """Return a receiver that gives a body already read, then what `receive` gives."""
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def again() -> Message:
        return waiting.pop() if waiting else await receive()

    return again
