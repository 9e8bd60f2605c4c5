"""The command `reachmap days`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli import say


def days(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Reach folder: reach.toml and your drawing.")
    ],
    out: Annotated[
        Path | None, typer.Option(help="The written folder; DIR/written if not given.")
    ] = None,
    count: Annotated[int, typer.Option("--days", min=1, max=14, help="How many days.")] = 5,
    forecast: Annotated[
        Path | None,
        typer.Option(exists=True, dir_okay=False, help="Forecast flow, in any gauge format."),
    ] = None,
    notes: Annotated[
        list[Path] | None,
        typer.Option(exists=True, dir_okay=False, help="CSV of clarity notes; repeat for more."),
    ] = None,
    clarity: Annotated[
        float | None, typer.Option(min=0.0, help="How far you see now, feet or metres.")
    ] = None,
    turbidity: Annotated[
        float | None, typer.Option(min=0.0, help="Turbidity now, in the unit of your notes.")
    ] = None,
    water_temp: Annotated[float | None, typer.Option(help="Water, Fahrenheit or Celsius.")] = None,
    zone: Annotated[
        str | None, typer.Option(help="Clock, like America/Vancouver; that of the place if not.")
    ] = None,
    now: Annotated[
        str | None, typer.Option(help="Reckon from this time, like 2031-01-05T08:30.")
    ] = None,
) -> None:
    """Say which of the coming days suits which runs, and why."""
    from reachmap.cli.days import Typed, find_days, write_days
    from reachmap.cli.days_table import print_days
    from reachmap.cli.flows import folder_units

    typed = Typed(count, forecast, notes or (), clarity, turbidity, water_temp, zone, now)
    found = find_days(folder, out, typed)
    print_days(found, folder_units(folder))
    for path in write_days(found, folder, out):
        say.line(f"Wrote {path}")
    say.line(say.CAUTION)
