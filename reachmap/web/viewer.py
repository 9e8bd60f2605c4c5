"""Serve a written folder of maps on this computer until Ctrl-C."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware.base import BaseHTTPMiddleware, RequestResponseEndpoint
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.writer import settle_if_free
from reachmap.pipeline.place import last_built
from reachmap.pipeline.stamp import written_folder
from reachmap.web.security import SecurityMiddleware
from reachmap.web.serve import Browse, Print, reserved, serve_until_stopped
from reachmap.web.trip_form.serve import form_routes

FIRST = "maps/index.html"
SHOWN = ("maps", "sheets", "gpx", "kml", "gis", "table")
"""Folders that are served; the cache and all others are not."""

SINGLE_FILES = ("days.html", "days.ics")
"""Single files of the written folder that are served too."""

POLICY = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
"""Each page carries the rest of its policy itself, scripts by their digests; both hold."""


WITH_FORM = "?form=log"
"""Query that tells a map page that the trip form is served too: its notes then link to it."""


def make_view(folder: Path, token: str, *, reach: Path | None = None) -> ASGIApp:
    """Return the server of a written folder: files of the folders shown, and no listing.

    Parameters
    ----------
    folder
        The written folder.
    token
        Secret first part of every path.
    reach
        The reach folder whose trip form is served too; None for no form.
    """
    there = [name for name in SHOWN if (folder / name).is_dir()]
    routes = shown_routes(folder, reach=reach, there=there)
    return SecurityMiddleware(Starlette(routes=[Mount(f"/{token}", routes=routes)]), token)


def shown_routes(folder: Path, *, reach: Path | None, there: Sequence[str]) -> list[BaseRoute]:
    """Return the routes of a written folder's files, and of the trip form.

    Parameters
    ----------
    folder, reach
        As for `make_view`.
    there
        Folders of it that are served, whether they are there already or not.
    """
    first = FIRST + (WITH_FORM if reach is not None else "")
    routes: list[Route | Mount] = [Route("/", partial(_to_first, first))]
    routes += [Mount(f"/{name}", _Files(folder / name)) for name in there]
    routes += [Route(f"/{name}", partial(_one_file, folder / name)) for name in SINGLE_FILES]
    shown = Starlette(routes=routes)
    shown.add_middleware(BaseHTTPMiddleware, dispatch=own_policy)
    # the form keeps the strict policy of our own pages; a map page carries its own
    form = form_routes(reach) if reach is not None else []
    return [*form, Mount("/", app=shown)]


class _Files:
    """Static files of a folder, which may be made later."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.files = StaticFiles(directory=folder, check_dir=False)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send a file, or 404 where there is none."""
        there = self.files if self.folder.is_dir() else Response("There is none.", 404)
        await there(scope, receive, send)


async def _one_file(path: Path, _: Request) -> Response:
    """Send a file, or 404 where there is none."""
    return FileResponse(path) if path.is_file() else Response("There is none.", 404)


async def _to_first(first: str, request: Request) -> Response:
    """Redirect to the first map page."""
    return RedirectResponse(f"{request.url.path.rstrip('/')}/{first}")


async def own_policy(request: Request, answer: RequestResponseEndpoint) -> Response:
    """Set the policy that a page cannot set by itself; the rest is in the page."""
    response = await answer(request)
    response.headers["Content-Security-Policy"] = POLICY
    return response


def shown_folder(folder: Path, out: Path | None, tell: Print) -> Path:
    """Return the written folder to show, and say why where it is not the usual one.

    Raises
    ------
    MarkupError
        If no maps are there.
    """
    settle_if_free(written_folder(folder, out))
    last = last_built(folder, out)
    if last.why:
        tell(last.why)
    if not (last.folder / FIRST).is_file():
        fix = f"Build it first: reachmap build {folder}"
        raise MarkupError([Fault(str(last.folder), "no maps are there", fix)])
    return last.folder


def serve_viewer(
    folder: Path, out: Path | None, *, port: int, tell: Print, browse: Browse | None
) -> None:
    """Serve what was built and open its first page, until Ctrl-C.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder to show; if not given, the one that was built last.
    port, tell, browse
        As for `web.serve.reserved` and `serve_until_stopped`.

    Raises
    ------
    MarkupError
        If nothing is built there, or the port is taken.
    """
    shown = shown_folder(folder, out, tell)
    with reserved(port) as place:
        serve_until_stopped(
            make_view(shown, place.token, reach=folder),
            place,
            FIRST + WITH_FORM,
            words=("Look here", "Only this computer can open it. Ctrl-C here ends it."),
            tell=tell,
            browse=browse,
        )
