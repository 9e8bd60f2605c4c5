"""Join the trip form to a reach folder, and serve it alone until Ctrl-C."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

from starlette.applications import Starlette
from starlette.routing import BaseRoute, Mount

from reachmap.base.generation import REPORT
from reachmap.markup.files import folder_units, refuse_no_folder
from reachmap.markup.gauge_of_folder import GaugeBook
from reachmap.pipeline.run_book import RunBook
from reachmap.pipeline.stamp import settled_folder
from reachmap.web.security import SecurityMiddleware
from reachmap.web.serve import Browse, Print, reserved, serve_until_stopped
from reachmap.web.trip_form.app import TripFormContext, log_routes

LINK = ("log", "Trip log")
"""Link to the form in the header of the drawing page: relative address, words."""


def trip_form_context(folder: Path, *, home: str = "") -> TripFormContext:
    """Return the data sources of a folder's trip form.

    Parameters
    ----------
    folder
        The reach folder.
    home
        Relative address of the drawing page, "" where it is not served with the form.
    """
    return TripFormContext(
        folder=folder,
        units=lambda: folder_units(folder),
        now=lambda: datetime.now().astimezone(),
        flow_at=GaugeBook(folder).flow_at,
        runs=lambda: built_runs(folder) or RunBook(folder).drawn,
        place_of=lambda entry: RunBook(folder).place_of(entry),
        home=home,
    )


def form_routes(folder: Path, *, home: str = "") -> list[BaseRoute]:
    """Return the form's routes for the server of the drawing page."""
    return log_routes(trip_form_context(folder, home=home))


def built_runs(folder: Path) -> list[str]:
    """Return the names of the runs of the last build, downstream; none where nothing was built."""
    try:
        path = settled_folder(folder, None) / REPORT
        rows = json.loads(path.read_text(encoding="utf-8"))["runs_by_flow"]
        return list(dict.fromkeys(str(row["run"]) for row in rows))
    except (OSError, ValueError, KeyError, TypeError):
        return []


def form_app(folder: Path, token: str) -> SecurityMiddleware:
    """Return the application that serves the form alone."""
    return SecurityMiddleware(
        Starlette(routes=[Mount(f"/{token}", routes=form_routes(folder))]), token
    )


def serve_form(folder: Path, *, port: int, tell: Print, browse: Browse | None) -> None:
    """Open the trip form alone and serve it until Ctrl-C.

    Parameters
    ----------
    folder
        The reach folder.
    port, tell, browse
        As for `web.serve.reserved` and `serve_until_stopped`.

    Raises
    ------
    MarkupError
        If there is no such folder or the port is taken.
    """
    refuse_no_folder(folder)
    with reserved(port) as place:
        serve_until_stopped(
            form_app(folder, place.token),
            place,
            "log",
            words=(
                "Log a trip here",
                "What the page says is kept is on the disk. Ctrl-C here ends the page.",
            ),
            tell=tell,
            browse=browse,
        )
