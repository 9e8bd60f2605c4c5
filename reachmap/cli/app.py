"""The commands: each turns words into values, makes one call and prints."""

from __future__ import annotations

import os
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reachmap import __version__
from reachmap.base.words import Season, UnitSystem
from reachmap.cli import say
from reachmap.cli.check_command import check
from reachmap.cli.days_command import days
from reachmap.cli.draft_command import draft
from reachmap.cli.find_command import find
from reachmap.cli.fit_command import fit
from reachmap.cli.gauge_command import gauge
from reachmap.cli.guide_command import guide
from reachmap.cli.log_command import log
from reachmap.cli.on_store import on_store
from reachmap.cli.options import (
    Browser,
    CellSize,
    LongNames,
    PaperChoice,
    Port,
    ReachFolder,
    ReachOrWaters,
    SomeFlows,
    WrittenFolder,
    browse,
)
from reachmap.cli.view_command import view
from reachmap.cli.waters_command import build_several, refuse_one_river

if TYPE_CHECKING:
    from reachmap.outputs.choices import Choices

app = typer.Typer(
    name="reachmap",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # else "reachmap[stores]" in a help text loses its brackets
)


def _version(wanted: bool) -> None:
    if wanted:
        say.line(f"reachmap {__version__}")
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
    units: Annotated[
        UnitSystem, typer.Option(help="Units of the folder: feet and cfs, or metres and m3/s.")
    ] = UnitSystem.US,
) -> None:
    """Begin a reach folder: a commented reach.toml and an empty drawing."""
    from reachmap.markup.starter import write_new

    for path in write_new(folder, units):
        say.line(f"Wrote {path}")
    say.line(f"Next: draw the river and its banks: reachmap mark {folder}")


@app.command()
def mark(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Reach folder; made where there is none.")
    ],
    port: Port = 0,
    browser: Browser = True,
) -> None:
    """Draw your river in the browser. The way to begin, and to change a drawing."""
    from reachmap.web.editor.serve import serve_editor

    serve_editor(folder, port=port, tell=say.line, browse=browse(browser))


app.command()(draft)
app.command()(check)


@app.command()
@on_store
def build(
    folder: ReachOrWaters,
    flow: Annotated[
        list[str] | None,
        typer.Option(
            help="A flow to map, like 2400 or 68m3/s, or the gauge's height with its unit, like "
            "4.2ft, where there is a rating; repeat for more."
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder to write into; if not given DIR/written, or DIR/written-quick where a "
            "fuller build (more flows, not --quick, finer cells) stands there."
        ),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Overwrite a fuller build with this one.")
    ] = False,
    cell: Annotated[
        CellSize | None,
        typer.Option(
            help="Side of a raster cell, metres: 0.5, 1, 2 or 4; by the river's width if not given."
        ),
    ] = None,
    quick: Annotated[
        bool, typer.Option("--quick", help="Preview from a one-dimensional flow; marked as such.")
    ] = False,
    ensemble: Annotated[
        bool,
        typer.Option(
            "--ensemble/--no-ensemble",
            help="Run a dozen rivers the evidence allows, to tell how sure the map is.",
        ),
    ] = True,
    season: Annotated[
        Season | None, typer.Option(help="Whose limits apply; as in reach.toml if not given.")
    ] = None,
    wind: Annotated[
        str,
        typer.Option(
            help="calm, blowing upstream or downstream, from river left or right; or a forecast: "
            "where it comes from and how fast, like 'SW 12 mph'."
        ),
    ] = "calm",
    clarity: Annotated[
        float | None, typer.Option(min=0.0, help="How far you see into the water, feet or metres.")
    ] = None,
    water_temp: Annotated[
        float | None,
        typer.Option(help="Water, Fahrenheit or Celsius: cold fish lie slower."),
    ] = None,
    tiles: Annotated[
        str,
        typer.Option(
            help="Imagery of your own below the maps: an address with {z}, {x} and {y}. Pages then "
            "fetch it from there; without it they ask the network for nothing."
        ),
    ] = "",
    long_names: LongNames = False,
    trips: Annotated[
        bool, typer.Option("--log/--no-log", help="Show your trips on maps/index.html.")
    ] = True,
    site: Annotated[
        bool,
        typer.Option(
            "--site",
            help="Write the maps as an installable page too (site/), for a host of your own.",
        ),
    ] = False,
    zarr: Annotated[
        bool,
        typer.Option(
            "--zarr",
            help="Write the fields as Zarr too (zarr/); wants: pip install 'reachmap[zarr]'.",
        ),
    ] = False,
    scheduler: Annotated[
        str,
        typer.Option(
            help="A Dask scheduler that works out flows, or whole reaches of a folder of waters, "
            "like tcp://host:8786; wants: pip install 'reachmap[dask]'."
        ),
    ] = "",
    workers: Annotated[
        int,
        typer.Option(
            min=1,
            max=64,
            help="Reaches of a folder of waters built side by side; more than 1 suits many small "
            "ones.",
        ),
    ] = 1,
) -> None:
    """Work out every flow and write maps, GPS and GIS files. Of each reach in a folder of them."""
    from reachmap.cli.typed import typed_celsius, typed_flows, typed_length, typed_tiles
    from reachmap.markup.files import folder_units
    from reachmap.markup.gauge_of_folder import rated_flow
    from reachmap.markup.waters import is_waters
    from reachmap.pipeline.folder import build_folder
    from reachmap.pipeline.stamp import Options
    from reachmap.pipeline.typed_range import beyond_rating
    from reachmap.text.built import built_lines
    from reachmap.text.changes import change_lines

    several = is_waters(folder)
    if several:
        one_river = {"--flow": flow, "--out": out, "--clarity": clarity, "--replace": replace}
        refuse_one_river({**one_river, "--water-temp": water_temp})
    units = folder_units(folder)
    options = Options(
        flows=typed_flows(
            flow or [],
            units,
            partial(rated_flow, folder, where="--flow"),
            partial(beyond_rating, folder, where="--flow"),
        ),
        cell=None if cell is None else float(cell.value),
        quick=quick,
        season=None if season is None else season.value,
        wind=wind,
        clarity_m=typed_length(clarity, units),
        water_c=None if water_temp is None else typed_celsius(water_temp, units),
        ensemble=ensemble,
        tiles=typed_tiles(tiles),
        long_names=long_names,
        log=trips,
        site=site,
        zarr=zarr,
    )
    if several:
        build_several(folder, options, scheduler=scheduler, workers=workers)
        return
    made = build_folder(
        folder, out, options, replace=replace, progress=say.progress, scheduler=scheduler
    )
    changed = [] if made.change is None else change_lines(made.change, units)
    place = made.place
    say.lines(
        built_lines(made.report, place.folder, fresh=made.fresh, why=place.why, changed=changed)
    )


app.command()(view)


@app.command()
def sheet(
    folder: ReachFolder,
    flow: SomeFlows = None,
    out: WrittenFolder = None,
    paper: Annotated[
        PaperChoice | None,
        typer.Option(help="half-letter, a5, letter or a4; by the folder's units if not given."),
    ] = None,
    pdf: Annotated[
        bool, typer.Option("--pdf", help="PDFs too; wants: pip install 'reachmap[pdf]'.")
    ] = False,
) -> None:
    """Write the pocket sheets alone."""
    from reachmap.outputs.choices import Choices

    chosen = Choices(paper="" if paper is None else paper.value, pdf=pdf)
    _write_parts(folder, out, flow or [], ("sheets",), chosen)


@app.command()
def gpx(
    folder: ReachFolder,
    flow: SomeFlows = None,
    out: WrittenFolder = None,
    long_names: LongNames = False,
) -> None:
    """Write the files for a GPS (GPX) and a phone (KML) alone."""
    from reachmap.outputs.choices import Choices

    _write_parts(folder, out, flow or [], ("gpx", "kml"), Choices(long_names=long_names))


def _write_parts(
    folder: Path, out: Path | None, flows: list[str], names: Sequence[str], chosen: Choices
) -> None:
    """Write some kinds of output alone and print where they lie."""
    from reachmap.cli.typed import typed_flows
    from reachmap.markup.files import folder_units
    from reachmap.markup.gauge_of_folder import rated_flow
    from reachmap.pipeline.parts import write_parts_of
    from reachmap.pipeline.typed_range import beyond_map
    from reachmap.text.cautions import TERMINAL

    rated = partial(rated_flow, folder, where="--flow")
    beyond = partial(beyond_map, folder, out, where="--flow")
    wanted = typed_flows(flows, folder_units(folder), rated, beyond)
    with say.progress() as progress:
        paths = write_parts_of(
            folder, out, wanted, names, chosen, progress=progress, workers=os.cpu_count() or 1
        )
    say.lines([*(f"Wrote {path}" for path in paths), TERMINAL])


@app.command()
def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Where the sample is copied to.")
    ] = Path("reachmap-demo"),
) -> None:
    """Copy the invented sample river and build it."""
    from reachmap.reach.sample import copy_sample

    copy_sample(folder)
    build(folder)


app.command()(fit)
app.command()(on_store(days))
app.command()(guide)
app.command()(log)
app.command()(gauge)
app.command()(find)


def main() -> None:
    """Run the command; exit code 0, 2 (yours to mend) or 1 (our bug)."""
    say.quiet_libraries()
    with say.faults_as_exit_codes():
        app()
