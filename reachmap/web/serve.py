"""Run the local server until it is stopped."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable

import uvicorn
from starlette.types import ASGIApp

ADDRESS = "127.0.0.1"

LEAVE_S = 2
"""How long an answer under way is waited for when the server is told to stop [s] (our choice)."""


def new_token() -> str:
    """Return a secret for one run."""
    return secrets.token_urlsafe(24)


def listen(port: int) -> socket.socket:
    """Return a socket on this computer only; `port` 0 takes any that is free.

    Raises
    ------
    OSError
        If the port is taken or may not be used.
    """
    place = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        place.bind((ADDRESS, port))
    except OSError:
        place.close()
        raise
    return place


def page_address(place: socket.socket, token: str) -> str:
    """Return the address of the page."""
    return f"http://{ADDRESS}:{place.getsockname()[1]}/{token}/"


def serve(app: ASGIApp, place: socket.socket, ready: Callable[[], None]) -> None:
    """Serve until Ctrl-C or until the process is told to end; `ready` is called when it answers."""
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
    try:
        server.run(sockets=[place])
    except KeyboardInterrupt:
        return


class _Server(uvicorn.Server):
    """A server that says when it answers."""

    ready: Callable[[], None]

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin, then say so."""
        await super().startup(sockets=sockets)
        if self.started:
            self.ready()
