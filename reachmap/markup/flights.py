"""Tiles of the terrain model by the day they were flown, and the river's flow on that day."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.errors import Fault
from reachmap.gauge.model import Gauge
from reachmap.markup.config import PlanRead, flow_text
from reachmap.markup.dem_look import Tile
from reachmap.markup.dem_note import Flight
from reachmap.markup.file_facts import FileFact
from reachmap.markup.files import REACH_FILE, matching
from reachmap.markup.layers import FLOW_LIMITS
from reachmap.markup.tracks import record_flows
from reachmap.markup.ways import FLOW_CHANGE

TOGETHER_DAYS = 45
"""Files made within so many days of each other are of one flight (our choice, 20-90: the tiles of
one delivery are written within weeks, two flights of one river lie a season apart)."""

TIMES_ASKED = 25
"""At so many times of the day its flow is looked up: each hour."""


@dataclass(frozen=True, slots=True)
class Flown:
    """The tiles in the order in which they count, and words.

    Parameters
    ----------
    tiles
        The flight that counts before the others first.
    faults, notes
        What is wrong, and what was assumed.
    facts
        What each file is used for, with its day.
    """

    tiles: tuple[Tile, ...]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    facts: tuple[FileFact, ...]


@dataclass(frozen=True, slots=True)
class _Group:
    """Tiles of one flight; `flown` whether `date` is its day and not that of the files."""

    tiles: tuple[Tile, ...]
    date: str = ""
    flown: bool = False
    flow: float = math.nan
    below_water: bool = False
    first: bool = False


def flown_tiles(
    tiles: Sequence[Tile],
    facts: Sequence[FileFact],
    folder: Path,
    asked: PlanRead,
    gauge: Gauge | None,
) -> tuple[PlanRead, Flown]:
    """Return the tiles by the day of their flight: reach.toml's word, else that of the files.

    The plan comes back with what is known of the terrain model's flights.

    Of two flights that know a place the one said to be `first` counts, else the later one; one
    whose day nobody says counts last. A flow is looked up for the day of a flight alone, never for
    the day on which a file was made.

    Parameters
    ----------
    tiles
        Of the terrain model, those that count before others first.
    facts
        What is known of the files so far.
    folder
        The reach folder.
    asked
        reach.toml.
    gauge
        Its gauge, None without one.
    """
    said, faults = _said(tiles, folder, asked)
    taken = {tile.path for group in said for tile in group.tiles}
    groups = [*said, *_by_their_files([one for one in tiles if one.path not in taken])]
    groups.sort(key=lambda one: one.date, reverse=True)
    groups.sort(key=lambda one: not one.first)
    notes: list[str] = []
    flights: list[Flight] = []
    words: dict[str, str] = {}
    count = 0
    for group in groups:
        flow, how = _flow_of(group, asked, gauge, notes)
        below = group.below_water or asked.plan.dem.below_water
        order = tuple(range(count, count + len(group.tiles)))
        count += len(group.tiles)
        flights.append(Flight(order, group.date, flow, below))
        words |= {
            tile.path.relative_to(folder).as_posix(): _words(group, flow, how, asked)
            for tile in group.tiles
        }
    note = replace(asked.plan.dem, flights=tuple(flights) if len(flights) > 1 else ())
    flows = [one.flow for one in flights]
    if flows and all(map(math.isfinite, flows)):
        note = replace(note, flow=min(flows))
    if flights:
        note = replace(note, below_water=flights[0].below_water)
    told = tuple(replace(one, detail=words.get(one.name, one.detail)) for one in facts)
    ordered = tuple(tile for group in groups for tile in group.tiles)
    plan = replace(asked.plan, dem=note)
    return replace(asked, plan=plan), Flown(ordered, tuple(faults), tuple(notes), told)


def _said(tiles: Sequence[Tile], folder: Path, asked: PlanRead) -> tuple[list[_Group], list[Fault]]:
    """Return the flights of reach.toml, and what is wrong with them."""
    groups, faults = [], []
    taken: set[Path] = set()
    for number, one in enumerate(asked.flights, start=1):
        where = f"{REACH_FILE}, [[flight]] {number}, files"
        wanted = set(matching(folder, one.files))
        mine = tuple(tile for tile in tiles if tile.path in wanted)
        if one.files and not mine:
            found = f"no tile of the terrain model is called {' or '.join(one.files)}"
            faults.append(Fault(where, found, "Correct the name, or take the block out"))
        if twice := sorted(tile.path.name for tile in mine if tile.path in taken):
            found = f"{', '.join(twice)} is in another [[flight]] too"
            faults.append(Fault(where, found, "Name each tile in one of them"))
        taken |= wanted
        if mine:
            own = max((tile.date for tile in mine if tile.flown), default="")
            day = one.date or own or max(tile.date for tile in mine)
            flown = bool(one.date or own)
            groups.append(_Group(mine, day, flown, one.flow, one.below_water, one.first))
    if sum(one.first for one in asked.flights) > 1:
        found = "two of them are said to be first"
        faults.append(Fault(f"{REACH_FILE}, [[flight]]", found, "Say it of one"))
    return groups, faults


def _by_their_files(tiles: Sequence[Tile]) -> list[_Group]:
    """Return the flights that files tell apart: a day each, or made within `TOGETHER_DAYS`."""
    groups: list[_Group] = []
    flown = sorted({tile.date for tile in tiles if tile.flown})
    groups += [
        _Group(tuple(one for one in tiles if one.flown and one.date == day), day, flown=True)
        for day in flown
    ]
    made = sorted((one for one in tiles if one.date and not one.flown), key=lambda one: one.date)
    together: list[Tile] = []
    for tile in made:
        if together and _days(together[-1].date, tile.date) > TOGETHER_DAYS:
            groups.append(_made(tiles, together))
            together = []
        together.append(tile)
    if together:
        groups.append(_made(tiles, together))
    if silent := tuple(one for one in tiles if not one.date):
        groups.append(_Group(silent))
    return groups


def _made(tiles: Sequence[Tile], together: Sequence[Tile]) -> _Group:
    """Return files made about one time as a flight, in the order in which they count."""
    names = {one.path for one in together}
    return _Group(tuple(one for one in tiles if one.path in names), together[-1].date)


def _days(one: str, other: str) -> int:
    """Return how many days lie between two ISO days."""
    return abs((date.fromisoformat(other) - date.fromisoformat(one)).days)


def _flow_of(
    group: _Group, asked: PlanRead, gauge: Gauge | None, notes: list[str]
) -> tuple[float, str]:
    """Return the river's flow on the day of a flight [m3/s] and who says so; NaN where nobody."""
    if math.isfinite(group.flow):
        return group.flow, "reach.toml"
    if group.date and group.flown and gauge is not None:
        flow = _recorded(group.date, asked.gauge.time_zone, gauge)
        if flow and max(flow) <= FLOW_CHANGE * min(flow):
            return float(np.median(flow)), "the gauge's record"
        if flow and math.isnan(asked.plan.dem.flow):
            units = asked.plan.units
            notes.append(
                f"On {group.date}, when the terrain was flown, the river ran between "
                f"{flow_text(min(flow), units)} and {flow_text(max(flow), units)}: say flow in its "
                "[[flight]]."
            )
    return asked.plan.dem.flow, "reach.toml"


def _recorded(day: str, zone: str, gauge: Gauge) -> list[float]:
    """Return the record's flows through a day of the gauge's time zone [m3/s]; [] for none."""
    begin = np.datetime64(day, "s").astype(object).replace(tzinfo=ZoneInfo(zone or "UTC"))
    seconds = [begin.timestamp(), (begin + timedelta(hours=24)).timestamp()]
    _, told = record_flows(gauge, np.asarray(seconds), TIMES_ASKED)
    return [float(one) for one in told if np.isfinite(one) and one >= FLOW_LIMITS[0]]


def _words(group: _Group, flow: float, how: str, asked: PlanRead) -> str:
    """Return day and flow of a flight in words; "" where nothing is known of its day."""
    if not group.date:
        return ""
    day = f"flown {group.date}" if group.flown else f"file made {group.date}"
    return f"{day}, at {flow_text(flow, asked.plan.units)} ({how})" if math.isfinite(flow) else day
