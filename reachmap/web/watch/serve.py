"""Serve the maps of a folder on this computer, built again after every change, until Ctrl-C."""

from __future__ import annotations

import html
import threading
from functools import partial
from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.types import ASGIApp

from reachmap.base.writer import settle_if_free
from reachmap.markup.files import refuse_no_folder
from reachmap.outputs.theme import page_style
from reachmap.pipeline.place import last_built
from reachmap.pipeline.stamp import stored_options, written_folder
from reachmap.pipeline.watching import Watch
from reachmap.text.watched import ENDED, TITLE, state_line
from reachmap.web.security import POLICY, SecurityMiddleware
from reachmap.web.serve import Browse, Print, reserved, serve_until_stopped
from reachmap.web.viewer import FIRST, SHOWN, WITH_FORM, shown_routes

PARTS = files("reachmap.web.watch") / "page"

PAGE_POLICY = POLICY.format(tiles="") + "; frame-src 'self'"
"""Policy of the page around the map: it alone may hold a frame, of this server's pages."""


def make_watched(watch: Watch, token: str) -> ASGIApp:
    """Return the server of a watched folder: the page around the map, its state, and the maps.

    Parameters
    ----------
    watch
        Of the folder.
    token
        Secret first part of every path.
    """
    routes = [
        Route("/", _page),
        Route("/state", partial(_state, watch)),
        Route("/watch.js", partial(_part, "watch.js", "text/javascript")),
        Route("/watch.css", partial(_part, "watch.css", "text/css")),
        *shown_routes(watch.out, reach=watch.folder, there=SHOWN),
    ]
    inner = Starlette(routes=[Mount(f"/{token}", routes=routes)])
    return SecurityMiddleware(inner, token, framed_here=True)


async def _page(_: Request) -> Response:
    """Return the page around the map."""
    text = (PARTS / "watch.html").read_text(encoding="utf-8")
    for name, words in (("{title}", TITLE), ("{ended}", ENDED)):
        text = text.replace(name, html.escape(words))
    return HTMLResponse(text, headers={"Content-Security-Policy": PAGE_POLICY})


async def _part(name: str, kind: str, _: Request) -> Response:
    """Return the page's script or style."""
    text = (PARTS / name).read_text(encoding="utf-8")
    return Response(page_style() + text if kind == "text/css" else text, media_type=kind)


async def _state(watch: Watch, _: Request) -> Response:
    """Return the state of the build: line for the page, faults, and the map to show."""
    state, shown = watch.state, (watch.out / FIRST).is_file()
    line = state_line(busy=state.busy, step=state.step, faults=bool(state.faults), shown=shown)
    return JSONResponse(
        {
            "number": state.number,
            "busy": state.busy,
            "line": line,
            "heading": state.heading,
            "faults": [str(one) for one in state.faults],
            "page": FIRST + WITH_FORM if shown else "",
        }
    )


def serve_watched(
    folder: Path, out: Path | None, *, port: int, tell: Print, browse: Browse | None
) -> None:
    """Watch a folder and serve its maps until Ctrl-C; a build under way is then abandoned.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder to show; if not given, the one that was built last.
    port, tell, browse
        As for `web.serve.reserved` and `serve_until_stopped`.

    Raises
    ------
    MarkupError
        If there is no such folder or the port is taken.
    """
    refuse_no_folder(folder)
    settle_if_free(written_folder(folder, out))
    target = last_built(folder, out).folder
    watch = Watch(folder, target, stored_options(target))
    with reserved(port) as place:
        runner = threading.Thread(target=watch.run, name="watch", daemon=True)
        runner.start()
        try:
            serve_until_stopped(
                make_watched(watch, place.token),
                place,
                "",
                words=(
                    "Look here",
                    "It is built again when a file of the folder changes. Ctrl-C here ends it.",
                ),
                tell=tell,
                browse=browse,
            )
        finally:
            watch.end(runner)
