"""Routes of the draft: make one, decide on its features, reopen the dropped ones."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from reachmap.web.editor.drafted import (
    decide,
    drafted_json,
    make_draft,
    place_in,
    reopen_dropped,
    states_in,
)
from reachmap.web.editor.schema import parsed
from reachmap.web.editor.session import EditorSession

RouteSpec = tuple[str, Callable[[Request], Awaitable[Response]], str]


def draft_routes(session: EditorSession) -> list[RouteSpec]:
    """Return the routes as (path, handler, method)."""

    def shown() -> dict[str, object]:
        marks = [one.mark for one in session.store.kept]
        return drafted_json(session.folder, session.store.units, marks)

    async def show(_request: Request) -> Response:
        """Return the open features."""
        return JSONResponse(await run_in_threadpool(shown))

    async def make(request: Request) -> Response:
        """Draft the river from the terrain."""
        at = place_in(parsed(await request.body()))
        units = session.store.units
        lines = await run_in_threadpool(lambda: make_draft(session.folder, units, at))
        return JSONResponse({"lines": lines, **await run_in_threadpool(shown)})

    async def put(request: Request) -> Response:
        """Store decisions on features."""
        states = states_in(parsed(await request.body()))
        await run_in_threadpool(lambda: decide(session.folder, states))
        return JSONResponse({})

    async def again(_request: Request) -> Response:
        """Reopen the dropped features."""
        await run_in_threadpool(lambda: reopen_dropped(session.folder))
        return JSONResponse(await run_in_threadpool(shown))

    return [
        ("/draft", show, "GET"),
        ("/draft", put, "POST"),
        ("/draft/make", make, "POST"),
        ("/draft/again", again, "POST"),
    ]
