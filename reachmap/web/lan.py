"""Show a written folder to a phone on the same network: read only, for a while, by a secret path.

Plain http: whoever can listen on the network can read what is sent. So it is off by
default, stops by itself, and leaves out the log.
"""

from __future__ import annotations

import html
import math
import socket
from collections.abc import Callable
from functools import partial
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware.base import BaseHTTPMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.generation import read_report
from reachmap.outputs.qr import qr_text
from reachmap.outputs.theme import page_style
from reachmap.text.cautions import SHORT
from reachmap.web.security import SecurityMiddleware
from reachmap.web.serve import Print, page_address, reserved, serve
from reachmap.web.viewer import FIRST, own_policy, shown_folder

SHOWN = ("site", "maps", "sheets", "gpx", "kml")
"""Folders that a phone may read; tables and GIS files hold the log's counts or far more detail."""

NOWHERE = ("192.0.2.1", 9)
"""An address that no computer has (RFC 5737): only its route is looked up, nothing is sent."""


def lan_address() -> str:
    """Return this computer's address in its network.

    Raises
    ------
    MarkupError
        If it is in none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(NOWHERE)
            found = str(probe.getsockname()[0])
        except OSError:
            found = ""
    if not found or found.startswith("127."):
        fix = "Join the phone's network, or name this computer's address with --address"
        raise MarkupError([Fault("--lan", "this computer is in no network", fix)])
    return found


def holds_log(folder: Path) -> bool:
    """Return whether the page of all flows holds the angler's log; True where that is unknown."""
    report = read_report(folder)
    return not report or bool(report.get("log"))


def make_lan_view(folder: Path, token: str, address: str, *, with_log: bool = False) -> ASGIApp:
    """Return the server of a written folder for a phone.

    Parameters
    ----------
    folder
        The written folder.
    token
        Secret first part of every path.
    address
        Address of this computer under which it answers, and no other name.
    with_log
        Whether the page that holds the log is shown, if it holds one.
    """
    closed = not with_log and holds_log(folder)
    there = [name for name in SHOWN if (folder / name).is_dir()]
    hidden = {folder / FIRST} if closed else set()
    routes: list[Route | Mount] = [Route("/", partial(_first, folder, closed))]
    routes += [Mount(f"/{name}", _Files(folder / name, hidden)) for name in there]
    shown = Starlette(routes=[Mount(f"/{token}", routes=routes)])
    shown.add_middleware(BaseHTTPMiddleware, dispatch=own_policy)
    return SecurityMiddleware(shown, token, hosts=frozenset({address}), reads_only=True)


class _Files:
    """Static files of a folder, except the hidden ones."""

    def __init__(self, folder: Path, hidden: set[Path]) -> None:
        self.files = StaticFiles(directory=folder)
        self.folder = folder
        self.hidden = {path for path in hidden if path.exists()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send a file, or 404 where there is none."""
        try:
            path, _ = self.files.lookup_path(self.files.get_path(scope))
        except (ValueError, OSError):  # no name that a file could have
            path = ""
        # by the file, not its name: some disks take INDEX.HTML for index.html
        if not path or any(Path(path).samefile(one) for one in self.hidden):
            await Response("There is none.", 404)(scope, receive, send)
            return
        await self.files(scope, receive, send)


async def _first(folder: Path, closed: bool, request: Request) -> Response:
    """Redirect to the page of all flows; where it is hidden, list the pages of one flow each."""
    base = request.url.path.rstrip("/")
    if (folder / "site" / "index.html").is_file():
        return RedirectResponse(f"{base}/site/index.html")
    if not closed:
        return RedirectResponse(f"{base}/{FIRST}")
    return HTMLResponse(_chooser(folder, base))


def _chooser(folder: Path, base: str) -> str:
    """Return a page with a link to the map of each flow."""
    labels = [str(flow["label"]) for flow in read_report(folder).get("flows") or ()]
    there = [label for label in labels if (folder / "maps" / f"{label}.html").is_file()]
    links = "".join(
        f'<p><a class="plate-button" href="{html.escape(f"{base}/maps/{label}.html")}">'
        f"{html.escape(label)}</a></p>"
        for label in there
    )
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Maps</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="robots" content="noindex">'
        f"<style>{page_style()} body {{ padding: 1rem; }}</style></head><body>"
        f'<h1>Which flow?</h1><p class="notice">{html.escape(SHORT)}</p>{links}'
        "<p>The page of all flows holds the log, so it is not shown here.</p></body></html>"
    )


def serve_lan(  # noqa: PLR0913 - each a choice of its own
    folder: Path,
    out: Path | None,
    *,
    port: int,
    hours: float,
    address: str,
    with_log: bool,
    tell: Print,
    show: Callable[[str], None],
) -> None:
    """Show what was built to a phone on the same network, until Ctrl-C or for some hours.

    Parameters
    ----------
    folder, out
        As for `web.viewer.serve_viewer`.
    port
        Port on this computer; 0 for any that is free.
    hours
        When it stops by itself [h], above 0.
    address
        Address of this computer to answer at; "" for the one in its network.
    with_log
        As for `make_lan_view`.
    tell, show
        Print a line, and a code of several lines.

    Raises
    ------
    MarkupError
        If nothing is built, this computer is in no network, or the port is taken.
    """
    shown = shown_folder(folder, out, tell)
    here = address or lan_address()
    with reserved(port, here) as place:
        page = page_address(place.socket, place.token)

        def ready() -> None:
            show(qr_text(page))
            tell(f"On a phone in the same network: {page}")
            tell(
                f"Read only, for {_hours(hours)}; Ctrl-C here ends it before. Whoever is in this "
                "network and has the address can read the maps."
            )
            if not with_log and holds_log(shown):
                tell("The page of all flows holds your log and is left out: --with-log shows it.")

        app = make_lan_view(shown, place.token, here, with_log=with_log)
        serve(app, place.socket, ready, lasts_s=hours * 3600)
    tell("Stopped: the maps can no longer be reached from the network.")


def _hours(hours: float) -> str:
    """Return a time in words."""
    minutes = math.ceil(hours * 60)
    return f"{hours:g} h" if minutes >= 60 else f"{minutes} min"
