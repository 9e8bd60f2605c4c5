"""The log's form: what it works with, and serving it alone."""

from __future__ import annotations

import json
import webbrowser
from datetime import datetime
from pathlib import Path

from starlette.applications import Starlette
from starlette.routing import BaseRoute, Mount

from reachmap.base.generation import REPORT
from reachmap.cli.here import serve_here
from reachmap.markup.files import folder_units, refuse_no_folder
from reachmap.markup.gauge_of_folder import GaugeBook
from reachmap.pipeline.run_book import RunBook
from reachmap.pipeline.stamp import settled_folder
from reachmap.web.security import SecurityMiddleware
from reachmap.web.trip_form.app import TripFormContext, log_routes

LINK = ("log", "Trip log")
"""What the drawing page's header leads to."""


def trip_form_context(folder: Path, *, home: str = "") -> TripFormContext:
    """Return what the log's form of a folder works with.

    Parameters
    ----------
    folder
        The reach folder.
    home
        Relative address of the drawing page, "" where it is not served beside the form.
    """
    return TripFormContext(
        folder=folder,
        units=lambda: folder_units(folder),
        now=lambda: datetime.now().astimezone(),
        flow_at=GaugeBook(folder).flow_at,
        runs=lambda: built_runs(folder) or drawn_runs(folder),
        place_of=lambda entry: RunBook(folder).place_of(entry),
        home=home,
    )


def form_routes(folder: Path, *, home: str = "") -> list[BaseRoute]:
    """Return the form's addresses for the server of the drawing page."""
    return log_routes(trip_form_context(folder, home=home))


def built_runs(folder: Path) -> list[str]:
    """Return the names of the runs of the last build, downstream; none where nothing was built."""
    try:
        path = settled_folder(folder, None) / REPORT
        rows = json.loads(path.read_text(encoding="utf-8"))["runs_by_flow"]
        return list(dict.fromkeys(str(row["run"]) for row in rows))
    except (OSError, ValueError, KeyError, TypeError):
        return []


def drawn_runs(folder: Path) -> list[str]:
    """Return the names of the runs that are drawn, as far as the drawing can be read."""
    return RunBook(folder).drawn


def form_app(folder: Path, token: str) -> SecurityMiddleware:
    """Return the application that serves the form alone."""
    return SecurityMiddleware(
        Starlette(routes=[Mount(f"/{token}", routes=form_routes(folder))]), token
    )


def serve_form(folder: Path, *, port: int, browser: bool) -> None:
    """Open the log's form and serve it until Ctrl-C.

    Parameters
    ----------
    folder
        The reach folder.
    port
        Port on this computer; 0 for any that is free.
    browser
        Whether the page is opened in the browser.

    Raises
    ------
    MarkupError
        If there is no such folder or the port is taken.
    """
    refuse_no_folder(folder)
    told = (
        "Log a trip here",
        "What the page says is kept is on the disk. Ctrl-C here ends the page.",
    )
    serve_here(
        lambda token: form_app(folder, token),
        port=port,
        page="log",
        told=told,
        opened=webbrowser.open if browser else None,
    )
