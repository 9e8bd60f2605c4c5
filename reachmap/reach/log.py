"""The log of a reach folder: adding typed entries, export, comparison with the season."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.logbook.clock import clock_fault
from reachmap.logbook.compare import Compared, compare
from reachmap.logbook.exchange import as_csv, as_geojson
from reachmap.logbook.folder_times import known_times
from reachmap.logbook.model import Entry
from reachmap.logbook.store import FILE, TripLog, kept_in
from reachmap.markup.files import folder_units
from reachmap.markup.gauge_of_folder import GaugeBook, folder_plan
from reachmap.markup.model import Plan
from reachmap.pipeline.run_book import RunBook, built_waters
from reachmap.text.log import unplaced_words
from reachmap.web.trip_form.typed import SEEN, SURE, Around, TypedError, read_entry


@dataclass(frozen=True, slots=True)
class Typed:
    """An entry as typed; plain numbers in the folder's units, None where nothing was typed."""

    when: str | None
    run: str
    flow: str | None
    clarity: float | None
    water_temp: float | None
    minutes: float | None
    swung: str
    touches: int
    landed: int
    released: int
    photo: str
    note: str
    place: str = ""
    seen: tuple[str, ...] = ()
    sure: bool = False


Confirm = Callable[[str], bool]
"""Callback that puts a question to the person at the terminal; True for yes."""

OPTIONS = {"date": "--when", "sure": "--when", "water": "--water-temp"}
"""Command-line options by field of the form, where the names differ."""

SET_IT = "Set the computer's clock or name the time with --when; --sure keeps it as it is"
"""How to mend an implausible date."""

_SEEN = re.compile(
    r"\s*(edge|depth|speed)\b\s*([\d.,]+)?\s*(?:in\s*([\d.,]+)\s*s?)?\s*(.*?)\s*@\s*(.+?)\s*",
    re.IGNORECASE,
)
_KINDS = {"edge": "edge", "depth": "sounding", "speed": "speed"}


def add_typed(folder: Path, typed: Typed, confirm: Confirm | None = None) -> Entry:
    """Keep an entry in the folder's log and return it.

    A flow that was not typed is looked up in the folder's gauge record. An implausible date, or a
    clock that looks wrong, is put to `confirm`.

    Parameters
    ----------
    folder
        The reach folder.
    typed
        The entry as typed.
    confirm
        Puts a question to the person at the terminal; None where none can be put.

    Raises
    ------
    MarkupError
        Listing every fault of what was typed.
    """
    now = datetime.now().astimezone()
    around = Around(folder_units(folder), now, GaugeBook(folder).flow_at, known_times(folder))
    day, _, hour = (typed.when or f"{now:%Y-%m-%dT%H:%M}").replace(" ", "T", 1).partition("T")
    sent: dict[str, Any] = {"date": [day], "time": [hour]}
    sent |= {
        "clarity": [_typed(typed.clarity)],
        "water": [_typed(typed.water_temp)],
        "minutes": [_typed(typed.minutes)],
    }
    for name in ("run", "swung", "photo", "note", "place"):
        sent[name] = [getattr(typed, name)]
    for name in ("touches", "landed", "released"):
        sent[name] = [str(getattr(typed, name))]
    try:
        rows = [_typed_seen(text) for text in typed.seen]
        sent |= {name: [row[n] for row in rows] for n, name in enumerate(SEEN)}
        sent |= {"flow": [typed.flow or ""]}
        if typed.sure or (typed.when and clock_fault(now, around.known)):
            sent |= {SURE: ["yes"]}  # a time that was typed does not hang on the clock
        entry = _read_confirmed(sent, around, confirm)
    except TypedError as error:
        faults = [
            Fault(_option(name), found, SET_IT if name == SURE else "Type it again")
            for name, found in error.faults.items()
        ]
        raise MarkupError(faults) from None
    entry = RunBook(folder).placed(entry)
    with TripLog(folder / FILE) as log:
        log.add(entry)
    return entry


def _read_confirmed(sent: dict[str, Any], around: Around, confirm: Confirm | None) -> Entry:
    """Return the entry typed; an implausible date is confirmed where nothing else is wrong."""
    try:
        return read_entry(sent, around)
    except TypedError as error:
        if confirm is None or set(error.faults) != {SURE} or not confirm(error.faults[SURE]):
            raise
    return read_entry(sent | {SURE: ["yes"]}, around)


def _option(name: str) -> str:
    """Return the command-line option of a field of the form."""
    if name.startswith("seen_"):
        return f"--seen, number {int(name[5:]) + 1}"
    return OPTIONS.get(name, f"--{name}")


def _typed(value: float | None) -> str:
    """Return a number as it was typed, "" where nothing was."""
    return "" if value is None else f"{value:.12g}"


def _typed_seen(text: str) -> tuple[str, ...]:
    """Return the form's fields of an observation.

    Raises
    ------
    MarkupError
        If the text does not match the pattern.
    """
    match = _SEEN.fullmatch(text)
    if match is None:
        fix = "Type it like 'depth 2.5 @ 46.2000,-141.3000'"
        raise MarkupError([Fault("--seen", f"{text!r} cannot be read", fix)])
    kind, value, seconds, note, place = (part or "" for part in match.groups())
    return (_KINDS[kind.lower()], value, seconds, place, note)


def export(folder: Path, target: Path, *, places: bool) -> int:
    """Write the log to a CSV or GeoJSON file, by its ending; return the number of entries.

    Raises
    ------
    MarkupError
        If the file is there already or its ending is neither.
    """
    makers = {".csv": as_csv, ".geojson": as_geojson, ".json": as_geojson}
    maker = makers.get(target.suffix.lower())
    if maker is None:
        fix = "Name a file that ends in .csv or .geojson"
        raise MarkupError([Fault("--export", f"{target.name!r} has another ending", fix)])
    if target.exists():
        raise MarkupError([Fault("--export", f"{target} is there already", "Name another file")])
    entries = kept_in(folder)
    text = maker(entries, places=places)
    write_aside(target, lambda aside: aside.write_text(text, encoding="utf-8", newline=""))
    return len(entries)


def unplaced_line(folder: Path, entries: Sequence[Entry]) -> str:
    """Return a sentence on trips that belong to no run of the map; "" where no run is mapped."""
    book = RunBook(folder)
    return unplaced_words(book.join(entries)) if entries and book.runs else ""


def compare_season(folder: Path) -> tuple[Compared, Plan]:
    """Return trips and touches against the season's limits, and reach.toml as far as it reads."""
    plan = folder_plan(folder).plan
    season = plan.season
    entries = kept_in(folder)
    found = compare(
        entries,
        RunBook(folder).join(entries),
        built_waters(folder),
        (season.depth_low_m, season.depth_high_m),
        (season.speed_low_m_s, season.speed_high_m_s),
    )
    return found, plan
