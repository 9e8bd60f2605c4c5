"""The commands `reachmap check` and `reachmap fit`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli import say

Folder = Annotated[
    Path, typer.Argument(metavar="DIR", help="Reach folder: reach.toml and your drawing.")
]


def check(
    folder: Folder,
    asks: Annotated[
        bool, typer.Option("--asks/--no-asks", help="List the places where a note helps most.")
    ] = True,
) -> None:
    """Read a reach folder and list everything to put right, or say that it reads well."""
    from reachmap import open_reach
    from reachmap.pipeline.looking import disagreements, looked_ground

    markup = open_reach(folder)
    ground = looked_ground(markup)
    compared = disagreements(markup, ground)
    for sentence in compared:
        say.line(f"{say.word_for(sentence)}: {sentence}")
    say.line(
        f"{markup.plan.name}: reads well. {markup.main.line.length:.0f} m of river, "
        f"{len(markup.banks)} bank polygons, {len(markup.edges)} seen edges, "
        f"{len(markup.soundings)} soundings, {len(markup.dems)} DEM files, "
        f"{len(markup.plan.flows)} flows to map."
    )
    for sentence in markup.assumed:
        if sentence not in compared:
            say.line(f"Note: {sentence}")
    if asks:
        from reachmap.cli.asks import asked_lines

        for line in asked_lines(folder, markup, ground):
            say.line(line)


def fit(
    folder: Folder,
    look: Annotated[
        bool, typer.Option("--look", help="Say what would be found; write nothing.")
    ] = False,
) -> None:
    """Fit roughness and depth to your notes: edges, soundings, speeds, levels, the log."""
    from reachmap.cli.fit import fit_folder

    with say.progress() as told:
        told("fitting to your notes", 0, 1)
        lines = fit_folder(folder, keep=not look, waiting=lambda words: told(words, 0, 1))
    for line in lines:
        say.line(line)
