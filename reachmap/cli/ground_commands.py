"""The commands `reachmap check` and `reachmap fit`."""

from __future__ import annotations

from typing import Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import ReachFolder


def check(
    folder: ReachFolder,
    asks: Annotated[
        bool, typer.Option("--asks/--no-asks", help="List the places where a note helps most.")
    ] = True,
) -> None:
    """Read a reach folder and list everything to put right, or say that it reads well."""
    from reachmap.markup import read_markup
    from reachmap.pipeline.looking import disagreements, looked_ground, suggested
    from reachmap.text.checked import checked_lines
    from reachmap.text.survey import survey_lines

    drawing = read_markup(folder)
    ground = looked_ground(drawing)
    say.lines(checked_lines(drawing, disagreements(drawing, ground)))
    if asks:
        places, built = suggested(folder, drawing, ground)
        say.lines(survey_lines(places, drawing.crs, drawing.plan.units, built=built))


def fit(
    folder: ReachFolder,
    look: Annotated[
        bool, typer.Option("--look", help="Say what would be found; write nothing.")
    ] = False,
) -> None:
    """Fit roughness and depth to your notes: edges, soundings, speeds, levels, the log."""
    from reachmap import open_reach
    from reachmap.pipeline.fitted import fitted_path
    from reachmap.text.fit import fit_lines

    with say.progress() as told:
        reach = open_reach(folder)
        kept = reach.fit(keep=not look, progress=told)
    say.lines(fit_lines(kept.found, reach.drawing.plan.units))
    path = fitted_path(folder)
    if look:
        say.line(f"Only a look: nothing was written to {path}.")
    else:
        say.line(f"Kept in {path}: the next build uses it. Delete it to go back.")
    say.line("Your drawing was not changed.")
