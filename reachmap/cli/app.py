"""The commands: each turns words into values, makes one call and prints."""

from __future__ import annotations

import os
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reachmap import __version__
from reachmap.cli import say

app = typer.Typer(
    name="reachmap",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


class CellSize(StrEnum):
    """Side of a raster cell in metres."""

    ONE = "1"
    TWO = "2"
    FOUR = "4"


class WindChoice(StrEnum):
    """Where the wind blows."""

    CALM = "calm"
    UPSTREAM = "upstream"
    DOWNSTREAM = "downstream"
    LEFT = "left"
    RIGHT = "right"


class SeasonChoice(StrEnum):
    """Whose limits of depth and speed apply."""

    WINTER = "winter"
    SUMMER = "summer"


ReachFolder = Annotated[
    Path, typer.Argument(metavar="DIR", help="Reach folder: reach.toml and your drawing.")
]


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"reachmap {__version__}")
        raise typer.Exit


@app.callback()
def top(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    """Map a home river, flow by flow, for people who swing flies with two-handed rods."""


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to begin in.")],
) -> None:
    """Begin a reach folder: a commented reach.toml and an empty drawing."""
    from reachmap.markup.starter import write_new

    for path in write_new(folder):
        typer.echo(f"Wrote {path}")
    typer.echo(f"Next: draw the river and its banks, then: reachmap check {folder}")


@app.command()
def check(folder: ReachFolder) -> None:
    """Read a reach folder and list everything to put right, or say that it reads well."""
    from reachmap import open_reach

    markup = open_reach(folder)
    typer.echo(
        f"{markup.plan.name}: reads well. {markup.main.line.length:.0f} m of river, "
        f"{len(markup.banks)} bank polygons, {len(markup.edges)} seen edges, "
        f"{len(markup.soundings)} soundings, {len(markup.dems)} DEM files, "
        f"{len(markup.plan.flows)} flows to map."
    )
    for sentence in markup.assumed:
        typer.echo(f"Note: {sentence}")


@app.command()
def build(
    folder: ReachFolder,
    flow: Annotated[
        list[str] | None,
        typer.Option(help="A flow to map, like 2400 or 68m3/s; repeat for more."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder to write into; DIR/written if not given.")
    ] = None,
    cell: Annotated[CellSize, typer.Option(help="Side of a raster cell, metres.")] = CellSize.TWO,
    quick: Annotated[
        bool, typer.Option("--quick", help="Preview from a one-dimensional flow; marked as such.")
    ] = False,
    season: Annotated[
        SeasonChoice | None, typer.Option(help="Whose limits apply; as in reach.toml if not given.")
    ] = None,
    wind: Annotated[
        WindChoice, typer.Option(help="Blowing up or down the river, or from river left or right.")
    ] = WindChoice.CALM,
    clarity: Annotated[
        float | None, typer.Option(min=0.0, help="How far you see into the water, feet or metres.")
    ] = None,
) -> None:
    """Work out every flow and write maps, GPS and GIS files."""
    from reachmap.cli.flows import folder_units, typed_flows, typed_length
    from reachmap.pipeline.stamp import Options, current_report, written_folder

    units = folder_units(folder)
    options = Options(
        flows=typed_flows(flow or [], units),
        cell=float(cell.value),
        quick=quick,
        season=None if season is None else season.value,
        wind=wind.value,
        clarity_m=typed_length(clarity, units),
    )
    target = written_folder(folder, out)
    report = current_report(folder, target, options)
    if report is not None:
        say.built(report, target, fresh=False)
        return
    from reachmap.markup import open_reach
    from reachmap.pipeline.order import build_reach

    with say.progress() as told:
        told("reading the drawing", 0, 1)
        workers = os.cpu_count() or 1
        made = build_reach(open_reach(folder), target, options, told=told, workers=workers)
    say.built(made.report, target, fresh=True)


@app.command()
def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Where the sample is copied to.")
    ] = Path("reachmap-demo"),
) -> None:
    """Copy the invented sample river and build it."""
    from reachmap.cli.sample import copy_sample

    copy_sample(folder)
    build(folder)


@app.command()
def log(
    folder: ReachFolder,
    add: Annotated[bool, typer.Option("--add", help="Keep an entry of the options below.")] = False,
    when: Annotated[
        str | None, typer.Option(help="Begin, like 2031-01-05T08:30; now if not given.")
    ] = None,
    run: Annotated[str, typer.Option(help="Name of the run.")] = "",
    flow: Annotated[
        str | None, typer.Option(help="Flow; from the folder's gauge record if not given.")
    ] = None,
    clarity: Annotated[float | None, typer.Option(help="How far you saw, feet or metres.")] = None,
    water_temp: Annotated[float | None, typer.Option(help="Water, Fahrenheit or Celsius.")] = None,
    minutes: Annotated[float | None, typer.Option(help="Time fished.")] = None,
    swung: Annotated[str, typer.Option(help="Fly and tip.")] = "",
    touches: Annotated[int, typer.Option(help="Fish that touched the fly.")] = 0,
    landed: Annotated[int, typer.Option(help="Of them, landed.")] = 0,
    released: Annotated[int, typer.Option(help="Of them, released.")] = 0,
    photo: Annotated[str, typer.Option(help="Path of a picture.")] = "",
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    take_in: Annotated[
        Path | None,
        typer.Option("--import", exists=True, dir_okay=False, help="CSV, GeoJSON or GPX to keep."),
    ] = None,
    export: Annotated[Path | None, typer.Option(help="CSV or GeoJSON to write.")] = None,
    places: Annotated[
        bool, typer.Option("--places", help="Write where it was, too; left out if not asked for.")
    ] = False,
) -> None:
    """Keep what was learned: list the log, add to it, bring entries in or out."""
    from reachmap.cli import log as trips
    from reachmap.cli.flows import folder_units

    if add:
        typed = trips.Typed(
            when,
            run,
            flow,
            clarity,
            water_temp,
            minutes,
            swung,
            touches,
            landed,
            released,
            photo,
            note,
        )
        entry = trips.add_typed(folder, typed)
        typer.echo(f"Kept: {trips.told_entry(entry, folder_units(folder))}")
    if take_in is not None:
        held, new = trips.take_in(folder, take_in)
        typer.echo(f"{held} entries in {take_in.name}, {new} of them new.")
    if export is not None:
        count = trips.export(folder, export, places=places)
        where = "with places" if places else "without places"
        typer.echo(f"Wrote {count} entries {where} to {export}")
    if not (add or take_in or export):
        lines = trips.told_entries(folder)
        typer.echo("\n".join(lines) if lines else "Nothing is in the log yet.")


def main() -> None:
    """Run the command; exit code 0, 2 (yours to mend) or 1 (our bug)."""
    with say.faults_told():
        app()
