"""The editor's web application: routes of one reach folder's drawing page, for one person."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.types import ASGIApp

from reachmap.base.disk import DiskFullError, refusal_words
from reachmap.base.errors import ReachmapError
from reachmap.base.picture import MapPicture
from reachmap.outputs.theme import page_style
from reachmap.web.editor.basemap import basemap_in, picture_body, tile_origin
from reachmap.web.editor.buffer import bank_buffer, read_buffer
from reachmap.web.editor.draft_routes import draft_routes
from reachmap.web.editor.finding import Finding, find_routes
from reachmap.web.editor.imports import found_in
from reachmap.web.editor.preview import Previewer
from reachmap.web.editor.schema import parsed, read_drawing, version_of
from reachmap.web.editor.session import EditorSession, prepare
from reachmap.web.editor.shell import shell
from reachmap.web.editor.store import KeepError, StaleError
from reachmap.web.security import POLICY, SecurityMiddleware

PARTS = files("reachmap.web.editor") / "page"

TYPES = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8"}
"""Types of the page's parts by ending."""

Answer = Callable[[Request], Awaitable[Response]]


@dataclass(frozen=True, slots=True)
class Library:
    """Script and style of the map library, the same as in the maps."""

    script: str
    style: str


def make_app(
    folder: Path,
    *,
    library: Library,
    token: str,
    extra_routes: Sequence[BaseRoute] = (),
    links: Sequence[tuple[str, str]] = (),
    notice: str = "",
) -> ASGIApp:
    """Return the application that serves the drawing page of a reach folder.

    Parameters
    ----------
    folder
        The reach folder; made where there is none.
    library
        The map library's files.
    token
        Secret first part of every address.
    extra_routes
        Routes of other pages, served under the same token and security middleware.
    links
        Links in the page's header, as (relative address, words).
    notice
        A sentence that the page shows once when first opened; "" for none.

    Raises
    ------
    MarkupError
        If the folder's drawing cannot be read, or the folder cannot be made.
    """
    prepare(folder)
    pages = _Pages(EditorSession(folder, notice), library, tuple(links))
    finding = find_routes(Finding(pages.session), _answered)
    routes = [*pages.routes(), *finding, *extra_routes]
    inner = Starlette(routes=[Mount(f"/{token}", routes=routes)])
    return SecurityMiddleware(inner, token)


class _Pages:
    """Request handlers: each calls the session and returns its answer as JSON or a file."""

    def __init__(
        self, session: EditorSession, library: Library, links: Sequence[tuple[str, str]]
    ) -> None:
        """Take the open folder."""
        self.session = session
        self.previewer = Previewer(session)
        self.library = library
        self.links = links

    def routes(self) -> list[BaseRoute]:
        """Return every route of the page."""
        routes: list[tuple[str, Answer, str]] = [
            ("/", self.page, "GET"),
            ("/page/{name}", self.part, "GET"),
            ("/state", self.state, "GET"),
            ("/drawing", self.drawing, "GET"),
            ("/drawing", self.save, "POST"),
            ("/check", self.check, "GET"),
            ("/facts", self.facts, "POST"),
            ("/basemap", self.basemap, "POST"),
            ("/picture", self.picture, "POST"),
            ("/picture/{name}", self.shown_picture, "GET"),
            ("/import", self.import_file, "POST"),
            ("/buffer", self.buffer, "POST"),
            ("/preview", self.preview, "POST"),
            ("/preview/wanted", self.wanted, "POST"),
            ("/reload", self.reload, "POST"),
            ("/relief.webp", self.relief, "GET"),
            ("/imagery.webp", self.imagery, "GET"),
            *draft_routes(self.session),
        ]
        return [Route(path, _answered(answer), methods=[method]) for path, answer, method in routes]

    async def page(self, _request: Request) -> Response:
        """Return the page."""
        address = basemap_in(self.session.folder)["tiles"]
        origin = f" {tile_origin(address)}" if address else ""
        policy = {"Content-Security-Policy": POLICY.format(tiles=origin)}
        return HTMLResponse(shell(self.links), headers=policy)

    async def part(self, request: Request) -> Response:
        """Return one of the page's own scripts or style sheets."""
        name = request.path_params["name"]
        library = {"library.js": self.library.script, "library.css": self.library.style}
        library["shared.css"] = page_style(ledger=True)
        kind = TYPES.get(Path(name).suffix, "")
        if name in library:
            return Response(library[name], media_type=kind)
        if not kind or name not in {part.name for part in PARTS.iterdir()}:
            return PlainTextResponse("Nothing is here.", 404)
        return Response((PARTS / name).read_bytes(), media_type=kind)

    async def state(self, _request: Request) -> Response:
        """Return the present version, and whether another program changed the files."""
        outside = await run_in_threadpool(self.session.changed_outside)
        return JSONResponse({"version": self.session.store.version, "outside": outside})

    async def drawing(self, _request: Request) -> Response:
        """Return all that the page shows."""
        return JSONResponse(await run_in_threadpool(self.session.as_json))

    async def save(self, request: Request) -> Response:
        """Keep a drawing."""
        body = await request.body()
        version = await run_in_threadpool(lambda: self.session.save(read_drawing(body)))
        return JSONResponse({"version": version})

    async def check(self, _request: Request) -> Response:
        """Return the faults found by the check."""
        return JSONResponse(await run_in_threadpool(self.session.check))

    async def facts(self, request: Request) -> Response:
        """Keep facts of reach.toml."""
        message = parsed(await request.body())
        new = message.get("facts")
        given: dict[str, Any] = new if isinstance(new, dict) else {}
        version = version_of(message)
        return JSONResponse(await run_in_threadpool(self.session.save_facts, version, given))

    async def basemap(self, request: Request) -> Response:
        """Store the basemap."""
        message = parsed(await request.body())
        new, version = message.get("basemap"), version_of(message)
        given: dict[str, Any] = new if isinstance(new, dict) else {}
        return JSONResponse(await run_in_threadpool(self.session.save_basemap, version, given))

    async def picture(self, request: Request) -> Response:
        """Keep a picture."""
        body = await request.body()
        return JSONResponse(await run_in_threadpool(self.session.save_picture, body))

    async def shown_picture(self, request: Request) -> Response:
        """Return a kept picture."""
        found = picture_body(self.session.folder, request.path_params["name"])
        if found is None:
            return PlainTextResponse("Nothing is here.", 404)
        return Response(found[0], media_type=found[1])

    async def import_file(self, request: Request) -> Response:
        """Return what a dropped file holds."""
        body, name = await request.body(), request.query_params.get("name", "")
        found = await run_in_threadpool(found_in, name, body)
        return JSONResponse({"found": [one.as_json() for one in found]})

    async def buffer(self, request: Request) -> Response:
        """Return a strip of bank along a water's edge."""
        edge, width, river = read_buffer(parsed(await request.body()), self.session.store.units)
        return JSONResponse({"paths": await run_in_threadpool(bank_buffer, edge, width, river)})

    async def preview(self, request: Request) -> Response:
        """Return the preview of the drawing as it is on the page."""
        body = parsed(await request.body())
        return JSONResponse(await run_in_threadpool(self.previewer.preview, body))

    async def wanted(self, request: Request) -> Response:
        """Return the question for the number that would change the preview most."""
        body = parsed(await request.body())
        return JSONResponse(await run_in_threadpool(self.previewer.wanted, body))

    async def reload(self, request: Request) -> Response:
        """Store the page's unsaved copy, open the folder again from the disk and return it."""
        copy = parsed(await request.body()).get("copy")
        await run_in_threadpool(self.session.reload, copy)
        return JSONResponse(await run_in_threadpool(self.session.as_json))

    async def relief(self, _request: Request) -> Response:
        """Return the shaded DEM."""
        return _shown(await run_in_threadpool(lambda: self.session.relief))

    async def imagery(self, _request: Request) -> Response:
        """Return the folder's picture from the air."""
        return _shown(await run_in_threadpool(lambda: self.session.imagery))


def _shown(made: MapPicture | None) -> Response:
    """Return a picture, or 404 where there is none."""
    if made is None:
        return PlainTextResponse("Nothing is here.", 404)
    return Response(made.data, media_type="image/webp")


def _answered(answer: Answer) -> Answer:
    """Wrap a handler so that its errors become a status code and a sentence for the page."""

    async def answered(request: Request) -> Response:
        try:
            return await answer(request)
        except StaleError as error:
            return JSONResponse({"stale": True, "said": str(error)}, 409)
        except (KeepError, DiskFullError) as error:
            words = f"{str(error).rstrip('.')}. What you see stays on this page meanwhile."
            return JSONResponse({"said": words}, 507)
        except ReachmapError as error:
            return JSONResponse({"said": str(error)}, 422)
        except OSError as error:
            words = f"{refusal_words(error)} What you see stays on this page meanwhile."
            return JSONResponse({"said": words}, 507)

    return answered
