"""Serve the drawing page and the trip form of a reach folder until Ctrl-C."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from reachmap.outputs.webmap import assets
from reachmap.web.editor.app import Library, make_app
from reachmap.web.editor.opened import page_announced
from reachmap.web.editor.session import prepare
from reachmap.web.serve import Browse, Print, reserved, serve_until_stopped
from reachmap.web.trip_form.serve import LINK, form_routes

DRAW_HERE = ("Draw here", "Everything is kept as you draw. Ctrl-C here ends the page.")


def serve_editor(folder: Path, *, port: int, tell: Print, browse: Browse | None) -> None:
    """Open the drawing page of a folder and serve it until Ctrl-C.

    Parameters
    ----------
    folder
        The reach folder; made where there is none.
    port, tell, browse
        As for `web.serve.reserved` and `serve_until_stopped`.

    Raises
    ------
    MarkupError
        If the port is taken, or the folder cannot be opened or made.
    """
    with reserved(port) as place:
        prepare(folder)
        with page_announced(folder, datetime.now().astimezone()) as other:
            app = make_app(
                folder,
                library=Library(script=assets.library_script(), style=assets.library_style()),
                token=place.token,
                extra_routes=form_routes(folder, home="./"),
                links=(LINK,),
                notice=other,
            )
            serve_until_stopped(
                app,
                place,
                "",
                words=(*DRAW_HERE, other) if other else DRAW_HERE,
                tell=tell,
                browse=browse,
            )
    tell(f"Stopped. Your drawing is in {folder}")
