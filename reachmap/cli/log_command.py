"""The command `reachmap log`."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reachmap.cli import say
from reachmap.cli.options import Browser, Port, ReachFolder, browse


class LogWhat(StrEnum):
    """What is done with the log."""

    LIST = "list"
    FORM = "form"
    COMPARE = "compare"
    REVIEW = "review"


def log(
    folder: ReachFolder,
    what: Annotated[
        LogWhat,
        typer.Argument(
            help="list it; open the form in your browser; compare the season's limits with where "
            "fish touched; review the season: write a page, beside the log, of what you know at "
            "which flow, and what you never tried."
        ),
    ] = LogWhat.LIST,
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
    place: Annotated[str, typer.Option(help="Where, as latitude,longitude.")] = "",
    seen: Annotated[
        list[str] | None,
        typer.Option(
            help="Something seen, repeat for more: 'edge @ LAT,LON', 'depth 2.5 @ LAT,LON', 'speed "
            "20 in 6 @ LAT,LON' (a stick, 20 feet or metres in 6 seconds)."
        ),
    ] = None,
    photo: Annotated[str, typer.Option(help="Path of a picture.")] = "",
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    sure: Annotated[
        bool,
        typer.Option(
            "--sure",
            help="The time is right, whatever the clock says; every entry of --import is kept as "
            "it stands.",
        ),
    ] = False,
    take_in: Annotated[
        Path | None,
        typer.Option(
            "--import",
            exists=True,
            dir_okay=False,
            help="CSV, GeoJSON or GPX to keep; notes of a map page are such a CSV.",
        ),
    ] = None,
    export: Annotated[Path | None, typer.Option(help="CSV or GeoJSON to write.")] = None,
    places: Annotated[
        bool, typer.Option("--places", help="Write where it was, too; left out if not asked for.")
    ] = False,
    port: Port = 0,
    browser: Browser = True,
) -> None:
    """Keep what was learned. List the log, add to it, bring entries in or out."""
    from reachmap.logbook.store import kept_in
    from reachmap.markup.files import folder_units, refuse_no_folder
    from reachmap.reach import log as trips
    from reachmap.text.log_compare import compare_lines
    from reachmap.text.log_list import entry_line

    refuse_no_folder(folder)
    if what is LogWhat.FORM:
        from reachmap.web.trip_form.serve import serve_form

        serve_form(folder, port=port, tell=say.line, browse=browse(browser))
        return
    if what is LogWhat.COMPARE:
        compared, plan = trips.compare_season(folder)
        say.lines(compare_lines(compared, plan.season, plan.units))
        return
    if what is LogWhat.REVIEW:
        from reachmap.markup.gauge_of_folder import folder_plan
        from reachmap.outputs.review_page.page import write_review
        from reachmap.pipeline.review import season_review
        from reachmap.text.review import review_lines

        review, plan = season_review(folder), folder_plan(folder).plan
        path = write_review(review, plan.name or folder.resolve().name, plan.units, folder)
        say.lines([*review_lines(review, plan.units), f"Wrote {path}"])
        return
    if add:
        typed = trips.Typed(
            when, run, flow, clarity, water_temp, minutes, swung, touches, landed, released, photo,
            note, place, tuple(seen or ()), sure,
        )  # fmt: skip
        entry = trips.add_typed(folder, typed, say.confirmed if sys.stdin.isatty() else None)
        say.line(f"Kept: {entry_line(entry, folder_units(folder))}")
    if take_in is not None:
        _take_in(folder, take_in, sure=sure)
    if export is not None:
        count = trips.export(folder, export, places=places)
        where = "with places" if places else "without places"
        say.line(f"Wrote {count} entries {where} to {export}")
    if not (add or take_in or export):
        entries = kept_in(folder)
        words = trips.unplaced_line(folder, entries)
        listed = [entry_line(entry, folder_units(folder)) for entry in entries]
        say.lines([*listed, *([words] if words else [])] or ["Nothing is in the log yet."])


def _take_in(folder: Path, source: Path, *, sure: bool) -> None:
    """Keep a file's entries; a question without a terminal to put it at ends with code 2."""
    from reachmap.reach.log_import import import_file
    from reachmap.text.log_import import imported_lines

    answer = say.confirmed if sys.stdin.isatty() else None
    done = import_file(folder, source, sure=sure, confirm=answer)
    say.lines(imported_lines(source.name, done))
    if done.unasked:
        raise typer.Exit(say.YOURS_TO_MEND)
