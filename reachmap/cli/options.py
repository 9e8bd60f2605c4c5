"""Arguments and options that several commands take."""

from __future__ import annotations

import webbrowser
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli.on_store import folder_here, folder_or_address


class CellSize(StrEnum):
    """Side of a raster cell in metres."""

    HALF = "0.5"
    ONE = "1"
    TWO = "2"
    FOUR = "4"


class PaperChoice(StrEnum):
    """Paper of the pocket sheet."""

    HALF_LETTER = "half-letter"
    A5 = "a5"
    LETTER = "letter"
    A4 = "a4"


def _in_its_locale(context: typer.Context, folder: Path) -> Path:
    """Write all that a command prints and writes in the locale of its folder."""
    from reachmap.base.language import written_in
    from reachmap.markup.folder_locale import folder_locale  # here, so that --help stays quick

    if isinstance(folder, Path):
        context.with_resource(written_in(folder_locale(folder)))
    return folder


ReachFolder = Annotated[
    Path,
    typer.Argument(
        metavar="DIR",
        help="Reach folder: reach.toml and your drawing.",
        parser=folder_here,
        callback=_in_its_locale,
    ),
]
ReachOrWaters = Annotated[
    Path,
    typer.Argument(
        metavar="DIR",
        help="Reach folder, or a folder that holds several; or where it lies, like s3://bucket/dir "
        "(wants: pip install 'reachmap[stores]').",
        parser=folder_or_address,
        callback=_in_its_locale,
    ),
]
WrittenFolder = Annotated[
    Path | None, typer.Option(help="The written folder; DIR/written if not given.")
]
Port = Annotated[
    int, typer.Option(min=0, max=65535, help="Port on this computer; any free one if 0.")
]
Browser = Annotated[
    bool, typer.Option("--browser/--no-browser", help="Open the page in your browser.")
]

Forecast = Annotated[
    list[Path] | None,
    typer.Option(
        exists=True,
        help="Forecast flow, in any gauge format, or a folder of one model run's files; repeat for "
        "the members of an ensemble.",
    ),
]
Zone = Annotated[
    str | None, typer.Option(help="Clock, like America/Vancouver; that of the place if not.")
]
Now = Annotated[str | None, typer.Option(help="Reckon from this time, like 2031-01-05T08:30.")]
SomeFlows = Annotated[
    list[str] | None,
    typer.Option(
        help="Any flow from the lowest to the highest mapped, like 1943, or the gauge's height, "
        "like 4.2ft; repeat for more."
    ),
]
LongNames = Annotated[
    bool, typer.Option("--long-names", help="Names in words in GPX files, not six signs.")
]


def browse(wanted: bool) -> Callable[[str], object] | None:
    """Return what opens an address in the browser; None where none is wanted."""
    return webbrowser.open if wanted else None
