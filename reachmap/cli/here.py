"""Serving a page on this computer until told to stop: what every such command has in common."""

from __future__ import annotations

import webbrowser
from collections.abc import Callable, Sequence

from starlette.types import ASGIApp

from reachmap.base.errors import Fault, MarkupError
from reachmap.cli import say
from reachmap.web.serve import listen, new_token, page_address, serve


def serve_here(
    make: Callable[[str], ASGIApp],
    *,
    port: int,
    page: str,
    told: Sequence[str],
    opened: Callable[[str], object] | None = webbrowser.open,
) -> None:
    """Serve an application until Ctrl-C; say its address, and open it.

    Parameters
    ----------
    make
        Takes the secret of this run, which begins every path, and returns the application.
    port
        Port on this computer; 0 for any that is free.
    page
        Address of the first page below the secret.
    told
        What stands before the address, and the lines after it; `make` may add to them.
    opened
        Opens an address; None to open none.

    Raises
    ------
    MarkupError
        If the port is taken, or what `make` raises.
    """
    try:
        place = listen(port)
    except OSError as error:
        fix = "Leave --port out to take any that is free"
        raise MarkupError([Fault(f"port {port}", str(error.strerror or error), fix)]) from None
    token = new_token()
    with place:
        address = page_address(place, token) + page

        def ready() -> None:
            say.line(f"{told[0]}: {address}")
            for line in told[1:]:
                say.line(line)
            if opened is not None:
                opened(address)

        serve(make(token), place, ready)
