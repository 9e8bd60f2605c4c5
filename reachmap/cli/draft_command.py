"""The command `draft`: a drawing to correct, made from terrain."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli import say


def draft(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder with terrain in it.")],
    at: Annotated[
        str | None,
        typer.Option(help="Latitude, longitude of a place on the river, like 46.2,-141.3."),
    ] = None,
) -> None:
    """Draft river line, banks and islands from terrain. Accept, move or drop each."""
    from reachmap.draft.store import counts
    from reachmap.markup.files import folder_units, refuse_no_folder
    from reachmap.pipeline.drafting import draft_folder, flow_is_known
    from reachmap.text.draft import draft_lines

    refuse_no_folder(folder)
    place = None if at is None else _place(at)
    made = draft_folder(folder, place)
    waiting = counts(made.fresh)
    known = flow_is_known(folder)
    say.lines(draft_lines(made.draft, waiting, folder_units(folder), flow_known=known))
    say.line(f"Next: look at it on the page and correct it: reachmap mark {folder}")


def _place(text: str) -> tuple[float, float]:
    """Return a typed place as longitude and latitude."""
    from reachmap.base.errors import Fault, MarkupError

    try:
        latitude, longitude = (float(part) for part in text.replace(",", " ").split())
    except ValueError:
        latitude = longitude = 999.0
    if abs(latitude) <= 84 and abs(longitude) <= 180:
        return longitude, latitude
    fix = "Type latitude, then longitude, in degrees, like 46.2,-141.3"
    raise MarkupError([Fault("--at", f"{text!r} is no place", fix)])
