"""The command `reachmap fit`."""

from __future__ import annotations

from typing import Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import ReachFolder


def fit(
    folder: ReachFolder,
    look: Annotated[
        bool, typer.Option("--look", help="Say what would be found; write nothing.")
    ] = False,
) -> None:
    """Fit roughness and depth to your notes. Edges, soundings, speeds, levels and the log count."""
    from reachmap import open_reach
    from reachmap.pipeline.fitted import fitted_path
    from reachmap.text.fit import fit_lines

    with say.progress() as progress:
        reach = open_reach(folder)
        kept = reach.fit(keep=not look, progress=progress)
    say.lines(fit_lines(kept.found, reach.drawing.plan.units))
    path = fitted_path(folder)
    if look:
        say.line(f"Only a look: nothing was written to {path}.")
    else:
        say.line(f"Kept in {path}: the next build uses it. Delete it to go back.")
    say.line("Your drawing was not changed.")
