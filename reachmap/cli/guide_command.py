"""The command `reachmap guide`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import Forecast, Now, ReachFolder, WrittenFolder, Zone


def guide(
    folder: ReachFolder,
    out: WrittenFolder = None,
    date: Annotated[
        str | None, typer.Option(help="The day, like 2031-01-14; today if not given.")
    ] = None,
    flow: Annotated[
        str | None,
        typer.Option(help="Flow or gauge height all day, instead of record and forecast."),
    ] = None,
    party: Annotated[
        Path | None,
        typer.Option(help="Who fishes: a file like party.toml; that of the folder if not given."),
    ] = None,
    rods: Annotated[
        int, typer.Option(min=1, max=4, help="How many like you, where no party is named.")
    ] = 2,
    taken: Annotated[
        list[str] | None, typer.Option(help="A run that others have; repeat for more.")
    ] = None,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Forget the plan made before for this day.")
    ] = False,
    forecast: Forecast = None,
    zone: Zone = None,
    now: Now = None,
) -> None:
    """Lay out a guide's day with two or three rods. Who fishes which run when, and plan B."""
    import os
    from functools import partial

    from reachmap.cli import typed
    from reachmap.markup.files import folder_units
    from reachmap.markup.gauge_of_folder import rated_flow
    from reachmap.outputs.guide_page.files import write_guide
    from reachmap.pipeline.stamp import settled_folder
    from reachmap.pipeline.typed_range import beyond_map
    from reachmap.reach.days import DaysAsked
    from reachmap.reach.guide import GuideAsked, guide_day, keep_plan
    from reachmap.text.cautions import TERMINAL
    from reachmap.text.guide_table import guide_shown

    units = folder_units(folder)
    rated = partial(rated_flow, folder, where="--flow")
    beyond = partial(beyond_map, folder, out, where="--flow")
    flows = typed.typed_flows([flow] if flow else [], units, rated, beyond)
    options = GuideAsked(
        day=typed.typed_day(date),
        flow=flows[0] if flows else float("nan"),
        party=party,
        rods=rods,
        taken=tuple(taken or ()),
        fresh=fresh,
        days=DaysAsked(
            forecast=forecast[0] if forecast else None,
            ensemble=(forecast or [])[1:],
            zone=typed.typed_zone(zone),
            now=typed.typed_time(now),
        ),
    )
    with say.progress() as progress:
        found = guide_day(folder, out, options, progress=progress, workers=os.cpu_count() or 1)
    say.shown(guide_shown(found, units))
    target = settled_folder(folder, out)
    paths = write_guide(found, units, target)
    if not taken and found.plan.rods:
        keep_plan(found, target)
    say.lines([*(f"Wrote {path}" for path in paths), TERMINAL])
