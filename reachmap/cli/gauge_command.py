"""The command `reachmap gauge`."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import ReachFolder


class GaugeWhat(StrEnum):
    """What is done with the gauge."""

    SHOW = "show"
    FIT = "fit"
    FETCH = "fetch"


def gauge(
    folder: ReachFolder,
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
    """Say what the gauge's files hold. Or fit a rating to your measurements, or fetch a record."""
    from datetime import UTC, datetime

    from reachmap.gauge.fetch import fetch
    from reachmap.markup.files import refuse_no_folder
    from reachmap.markup.gauge_of_folder import checked_gauge
    from reachmap.reach.gauge import fit_rating, keep_rating
    from reachmap.text.gauge import gauge_lines, rating_fit_lines

    if what is GaugeWhat.FETCH:
        refuse_no_folder(folder)
        say.lines(fetch(folder, site, days=days, today=datetime.now(UTC)))
        return
    read = checked_gauge(folder)
    if what is GaugeWhat.SHOW:
        say.lines(gauge_lines(read))
        return
    rating, number = fit_rating(read)
    lines = rating_fit_lines(rating, number, at or [], read.units)
    if keep:
        path = keep_rating(folder, rating, read)
        lines.append(f"Wrote {path}: from now on it is the gauge's rating.")
    else:
        lines.append("Nothing was written; with --keep it becomes the gauge's rating.")
    say.lines(lines)
