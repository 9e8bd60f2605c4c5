"""The command `reachmap gauge`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli import say


class GaugeWhat(StrEnum):
    """What is done with the gauge."""

    SHOW = "show"
    FIT = "fit"
    FETCH = "fetch"


def gauge(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Reach folder.")],
    what: Annotated[
        GaugeWhat,
        typer.Argument(
            help="show what its files say; fit a rating to your own measurements; fetch a record "
            "by the site's number."
        ),
    ] = GaugeWhat.SHOW,
    keep: Annotated[
        bool, typer.Option("--keep", help="With fit: write the rating into DIR/gauge.")
    ] = False,
    at: Annotated[
        list[float] | None, typer.Option(help="With fit: a stage, feet or metres, to tell of.")
    ] = None,
    site: Annotated[str, typer.Option(help="With fetch: the gauge's number, like 01594440.")] = "",
    days: Annotated[
        int, typer.Option(min=1, max=6000, help="With fetch: days of record before today.")
    ] = 30,
) -> None:
    """Say what the gauge's files hold, fit a rating to your measurements, or fetch a record."""
    from reachmap.cli import gauge as acts

    if what is GaugeWhat.FIT:
        lines = acts.fitted(folder, stages=at or [], keep=keep)
    elif what is GaugeWhat.FETCH:
        lines = acts.fetched(folder, site=site, days=days)
    else:
        lines = acts.shown(folder)
    for line in lines:
        say.line(line)
