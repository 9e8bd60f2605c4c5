"""The command `reachmap days`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import Forecast, Now, ReachOrWaters, WrittenFolder, Zone
from reachmap.cli.waters_command import days_of_several, refuse_one_river


def days(
    folder: ReachOrWaters,
    out: WrittenFolder = None,
    count: Annotated[int, typer.Option("--days", min=1, max=14, help="How many days.")] = 5,
    forecast: Forecast = None,
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
    zone: Zone = None,
    now: Now = None,
) -> None:
    """Say which of the coming days suits which runs, and why. Of several waters, which."""
    import os

    from reachmap.cli import typed
    from reachmap.markup.files import folder_units
    from reachmap.markup.waters import is_waters
    from reachmap.outputs.days_page.write import write_days
    from reachmap.pipeline.stamp import settled_folder
    from reachmap.reach.days import DaysAsked, coming_days
    from reachmap.text.cautions import TERMINAL
    from reachmap.text.days_table import days_shown

    several = is_waters(folder)
    if several:
        one_river = {"--out": out, "--forecast": forecast, "--notes": notes, "--clarity": clarity}
        refuse_one_river({**one_river, "--turbidity": turbidity, "--water-temp": water_temp})
    units = folder_units(folder)
    options = DaysAsked(
        days=count,
        forecast=forecast[0] if forecast else None,
        ensemble=(forecast or [])[1:],
        notes=notes or (),
        clarity_m=typed.typed_number(typed.typed_length(clarity, units)),
        turbidity=typed.typed_number(turbidity),
        water_c=typed.typed_celsius(water_temp, units),
        zone=typed.typed_zone(zone),
        now=typed.typed_time(now),
    )
    if several:
        days_of_several(folder, options)
        return
    with say.progress() as progress:
        found = coming_days(folder, out, options, progress=progress, workers=os.cpu_count() or 1)
    say.shown(days_shown(found, units))
    paths = write_days(found, units, settled_folder(folder, out))
    say.lines([*(f"Wrote {path}" for path in paths), TERMINAL])
