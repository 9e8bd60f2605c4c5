"""What `reachmap mark` does: serve the drawing page on this computer until told to stop."""

from __future__ import annotations

import webbrowser
from contextlib import ExitStack
from datetime import datetime
from pathlib import Path

from starlette.types import ASGIApp

from reachmap.cli import say
from reachmap.cli.here import serve_here
from reachmap.cli.log_form import LINK as LOG_LINK
from reachmap.cli.log_form import form_routes
from reachmap.outputs.webmap import assets
from reachmap.web.editor.app import Library, make_app
from reachmap.web.editor.opened import page_announced
from reachmap.web.editor.session import prepare


def mark_folder(folder: Path, *, port: int, browser: bool) -> None:
    """Open the drawing page of a folder and serve it until Ctrl-C.

    Parameters
    ----------
    folder
        The reach folder; made where there is none.
    port
        Port on this computer; 0 for any that is free.
    browser
        Whether the page is opened in the browser.

    Raises
    ------
    MarkupError
        If the port is taken, or the folder cannot be opened or made.
    """
    told = ["Draw here", "Everything is kept as you draw. Ctrl-C here ends the page."]

    def made(token: str) -> ASGIApp:
        prepare(folder)
        now = datetime.now().astimezone()
        other = open_page.enter_context(page_announced(folder, now))
        told.extend([other] if other else [])
        trips = form_routes(folder, home="./")
        return make_app(
            folder,
            library=_library(),
            token=token,
            extra_routes=trips,
            links=(LOG_LINK,),
            said=other,
        )

    opened = webbrowser.open if browser else None
    with ExitStack() as open_page:
        serve_here(made, port=port, page="", told=told, opened=opened)
    say.line(f"Stopped. Your drawing is in {folder}")


def _library() -> Library:
    """Return what the page shares with the maps."""
    return Library(script=assets.library_script(), style=assets.library_style())
