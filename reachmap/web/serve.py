"""Run the local server on a port of this computer until Ctrl-C."""

from __future__ import annotations

import asyncio
import secrets
import socket
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import uvicorn
from starlette.types import ASGIApp

from reachmap.base.errors import Fault, MarkupError

ADDRESS = "127.0.0.1"

LEAVE_S = 2
"""How long an answer under way is waited for when the server stops [s] (our choice)."""

Print = Callable[[str], None]
"""Takes one line for the person at the terminal."""

Browse = Callable[[str], object]
"""Opens an address in a browser."""


def new_token() -> str:
    """Return a secret for one run."""
    return secrets.token_urlsafe(24)


def listen(port: int, address: str = ADDRESS) -> socket.socket:
    """Return a socket on one address of this computer; `port` 0 takes any that is free.

    Raises
    ------
    OSError
        If the port is taken or may not be used.
    """
    place = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        place.bind((address, port))
    except OSError:
        place.close()
        raise
    return place


@dataclass(frozen=True, slots=True)
class Place:
    """A port held on this computer, and the secret that begins every path of this run."""

    socket: socket.socket
    token: str


@contextmanager
def reserved(port: int, address: str = ADDRESS) -> Iterator[Place]:
    """Hold a port for as long as the context lasts; taken before anything else is done.

    Parameters
    ----------
    port
        Port on this computer; 0 for any that is free.
    address
        Address of this computer to answer at; the default is reachable from this computer only.

    Raises
    ------
    MarkupError
        If the port is taken or may not be used.
    """
    try:
        held = listen(port, address)
    except OSError as error:
        fix = "Leave --port out to take any that is free"
        raise MarkupError([Fault(f"port {port}", str(error.strerror or error), fix)]) from None
    with held:
        yield Place(held, new_token())


def page_address(place: socket.socket, token: str) -> str:
    """Return the address of the page."""
    address, port = place.getsockname()[:2]
    return f"http://{address}:{port}/{token}/"


def serve_until_stopped(
    app: ASGIApp,
    place: Place,
    page: str,
    *,
    words: Sequence[str],
    tell: Print,
    browse: Browse | None,
) -> None:
    """Serve an application until Ctrl-C; print its address once it answers, and open it.

    Parameters
    ----------
    app, place
        The application, and where it is served.
    page
        Address of the first page below the secret.
    words
        What is printed before the address, and the lines below it.
    tell
        Prints a line.
    browse
        Opens the address; None to open none.
    """
    address = page_address(place.socket, place.token) + page

    def ready() -> None:
        for line in (f"{words[0]}: {address}", *words[1:]):
            tell(line)
        if browse is not None:
            browse(address)

    serve(app, place.socket, ready)


def serve(
    app: ASGIApp, place: socket.socket, ready: Callable[[], None], *, lasts_s: float | None = None
) -> None:
    """Serve until Ctrl-C or a signal to end; `ready` is called when it answers.

    `lasts_s`: for at most so long [s].
    """
    config = uvicorn.Config(
        app,
        log_level="critical",
        access_log=False,
        lifespan="off",
        ws="none",
        server_header=False,
        timeout_graceful_shutdown=LEAVE_S,
    )
    server = _Server(config)
    server.ready = ready
    server.lasts_s = lasts_s
    try:
        server.run(sockets=[place])
    except KeyboardInterrupt:
        return


class _Server(uvicorn.Server):
    """A server that calls `ready` when it answers."""

    ready: Callable[[], None]
    lasts_s: float | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then call `ready`."""
        await super().startup(sockets=sockets)
        if self.started:
            if self.lasts_s is not None:
                asyncio.get_running_loop().call_later(self.lasts_s, self._end)
            self.ready()

    def _end(self) -> None:
        """Stop serving, after the answers under way."""
        self.should_exit = True
