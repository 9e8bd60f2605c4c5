"""What `reachmap log` does: words into entries, entries into words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.units import FLOW, LENGTH, from_si, to_si
from reachmap.base.words import UnitSystem
from reachmap.cli.flows import folder_units, typed_flows, typed_length
from reachmap.triplog.exchange import as_csv, as_geojson, from_csv, from_geojson
from reachmap.triplog.model import Entry
from reachmap.triplog.store import FILE, TripLog
from reachmap.triplog.waypoints import from_gpx


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


def add_typed(folder: Path, typed: Typed) -> Entry:
    """Keep an entry in the folder's log and return it.

    A flow that was not typed is looked up in the folder's gauge record.

    Raises
    ------
    MarkupError
        Listing what is wrong with the words typed.
    """
    units = folder_units(folder)
    when = _when(typed.when)
    flows = typed_flows([typed.flow] if typed.flow else [], units)
    flow, flow_from = (flows[0], "typed") if flows else _gauged(folder, when)
    celsius = UnitSystem.US is not units
    try:
        entry = Entry(
            when=when,
            run=typed.run,
            flow=flow,
            flow_from=flow_from,
            clarity_m=_or_nan(typed_length(typed.clarity, units)),
            water_c=_celsius(typed.water_temp, celsius=celsius),
            minutes=_or_nan(typed.minutes),
            swung=typed.swung,
            touches=typed.touches,
            landed=typed.landed,
            released=typed.released,
            photo=typed.photo,
            note=typed.note,
        )
    except ValueError as error:
        faults = [Fault("the entry", part, "Type it again") for part in str(error).split("; ")]
        raise MarkupError(faults) from None
    with TripLog(folder / FILE) as log:
        log.add(entry)
    return entry


def _when(text: str | None) -> datetime:
    """Return a typed time, in this computer's zone if it names none; now if nothing was typed."""
    if text is None:
        return datetime.now().astimezone()
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        fix = "Type it like 2031-01-05T08:30"
        raise MarkupError([Fault("--when", f"{text!r} is not a time", fix)]) from None
    return when if when.tzinfo else when.astimezone()


def _gauged(folder: Path, when: datetime) -> tuple[float, str]:
    """Return the flow of the folder's gauge record at a time, NaN where it does not know.

    A folder with faults is left to `check`: what was learned is kept all the same.
    """
    from reachmap.markup import open_reach
    from reachmap.planner.record import flow_at

    try:
        gauge = open_reach(folder).gauge
    except MarkupError:
        gauge = None
    if gauge is None:
        return math.nan, ""
    moment = np.datetime64(int(when.timestamp()), "s")
    flow = flow_at(gauge, moment)
    return flow, "" if math.isnan(flow) else "gauge"


def _or_nan(value: float | None) -> float:
    """Return NaN where nothing was typed."""
    return math.nan if value is None else value


def _celsius(value: float | None, *, celsius: bool) -> float:
    """Return a typed temperature [C]: Fahrenheit in a US folder."""
    if value is None:
        return math.nan
    return value if celsius else (value - 32) / 1.8


def told_entries(folder: Path) -> list[str]:
    """Return the log as lines, oldest first."""
    units = folder_units(folder)
    with TripLog(folder / FILE) as log:
        entries = log.entries()
    return [told_entry(entry, units) for entry in entries]


def told_entry(entry: Entry, units: UnitSystem) -> str:
    """Return one entry as a line."""
    parts = [f"{entry.when:%Y-%m-%d %H:%M}", entry.run or "(no run)"]
    if not math.isnan(entry.flow):
        parts.append(f"{from_si(entry.flow, FLOW[units]):.0f} {FLOW[units]}")
    if not math.isnan(entry.minutes):
        parts.append(f"{entry.minutes:.0f} min")
    parts.append(f"{entry.touches} touched, {entry.landed} landed, {entry.released} released")
    parts += [text for text in (entry.swung, entry.note) if text]
    parts += [f"{len(entry.seen)} seen or measured"] if entry.seen else []
    return "; ".join(" ".join(part.split()) for part in parts)


def export(folder: Path, target: Path, *, places: bool) -> int:
    """Write the log to a CSV or GeoJSON file, told by its ending; return how many entries.

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
    with TripLog(folder / FILE) as log:
        entries = log.entries()
    target.write_text(maker(entries, places=places), encoding="utf-8")
    return len(entries)


def take_in(folder: Path, source: Path) -> tuple[int, int]:
    """Keep the entries of a CSV, GeoJSON or GPX file; return how many it held, how many were new.

    Raises
    ------
    FaultsError
        Listing every row that cannot be kept; then none is.
    """
    text = source.read_text(encoding="utf-8-sig")
    ending = source.suffix.lower()
    if ending == ".gpx":
        unit = LENGTH[folder_units(folder)]
        entries = from_gpx(text, length=lambda value: to_si(value, unit))
    elif ending == ".csv":
        entries = from_csv(text)
    else:
        entries = from_geojson(text)
    with TripLog(folder / FILE) as log:
        return len(entries), log.add(*entries)
