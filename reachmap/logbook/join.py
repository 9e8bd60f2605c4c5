"""Which run of a build each trip of the log belongs to: by name, by drawn name and by place."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import Point
from shapely.geometry.base import BaseGeometry

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.words import Side
from reachmap.logbook.model import Entry
from reachmap.logbook.stats import run_key
from reachmap.water.names import drawn_name, without_place

NEAR_M = 30.0
"""Largest distance from a run at which a trip's place still belongs to it [m]; our choice, 10-60:
the error of a phone's position plus an angler who stands off the water fished."""


@dataclass(frozen=True, slots=True)
class RunPlace:
    """A run of a build, as far as trips are matched with it.

    Parameters
    ----------
    name
        As the build calls it.
    drawn
        Name of the angler's own outline that it was cut from, "" for none.
    side
        left, right, island, or "" for no bank.
    start, end
        Metres down the main line; NaN unknown.
    outline
        Shape in the project's metric CRS; None unknown.
    """

    name: str
    drawn: str = ""
    side: str = ""
    start: float = math.nan
    end: float = math.nan
    outline: BaseGeometry | None = None


@dataclass(frozen=True, slots=True)
class Joined:
    """Trips by run.

    Parameters
    ----------
    by_run
        Entries of each run, oldest first, under `run_key` of its name.
    runs_of
        Names of the runs that each entry counts for, by its id: several where it names an outline
        that was cut into several runs and has no place.
    unplaced
        Entries that fished and found no run, oldest first.
    """

    by_run: Mapping[str, Sequence[Entry]]
    runs_of: Mapping[str, tuple[str, ...]]
    unplaced: tuple[Entry, ...]


def join_trips(entries: Iterable[Entry], runs: Sequence[RunPlace], crs: str = "") -> Joined:
    """Return trips with the runs they belong to.

    Parameters
    ----------
    entries
        Of the log, oldest first.
    runs
        Of the build.
    crs
        Metric CRS of the outlines; "" if they have none.

    Notes
    -----
    A name that is drawn means every run cut from that outline; of these, the one at the trip's
    place is taken, else the one of the very same name, else all. For any other name the run at the
    trip's place is taken, since names given by rule move when the river is drawn anew; else the one
    of the same name, or of the same name but for its place along the river.
    """
    kept = list(entries)
    places = _points(kept, crs)
    by_run: dict[str, list[Entry]] = {run_key(run.name): [] for run in runs}
    runs_of: dict[str, tuple[str, ...]] = {}
    unplaced = []
    for entry, place in zip(kept, places, strict=True):
        found = runs_of_entry(entry, runs, place)
        if not found:
            if entry.is_fishing:
                unplaced.append(entry)
            continue
        runs_of[entry.uid] = tuple(run.name for run in found)
        for key in {run_key(run.name) for run in found}:
            by_run[key].append(entry)
    return Joined(by_run, runs_of, tuple(unplaced))


def runs_of_entry(
    entry: Entry, runs: Sequence[RunPlace], place: Point | None = None
) -> tuple[RunPlace, ...]:
    """Return the runs a trip belongs to, () for none; `place` is its own in the runs' CRS."""
    key = run_key(entry.run)
    same = [run for run in runs if key and run_key(run.name) == key]
    drawn = run_key(drawn_name(entry.run, {run.drawn for run in runs if run.drawn}))
    family = [run for run in runs if drawn and run_key(run.drawn) == drawn]
    there = _at(entry, family or runs, place)
    if any(run in there for run in same):
        return tuple(same)
    if there:
        return (there[0],)
    part = without_place(key)
    alike = [
        run for run in family or runs if key and run_key(without_place(run.name)) == part != drawn
    ]
    return tuple(same or alike or family)


def run_places(
    along: Sequence[Mapping[str, Any]], outlines: Sequence[Any] | None = None
) -> list[RunPlace]:
    """Return the runs of a report's `runs_along`, with their outlines where these are at hand."""
    shapes = outlines if outlines is not None else [None] * len(along)
    return [
        RunPlace(
            name=str(row["run"]),
            drawn=str(row["drawn"]),
            side=str(row["side"]),
            start=_known(row["station_m"]),
            end=_known(row["station_m"]) + _known(row["length_m"]),
            outline=shape,
        )
        for row, shape in zip(along, shapes, strict=True)
    ]


def drawn_runs(names: Iterable[str]) -> list[RunPlace]:
    """Return the runs of a drawing that was not built yet: by name alone."""
    return [RunPlace(name, drawn=name) for name in dict.fromkeys(names)]


def _points(entries: Sequence[Entry], crs: str) -> list[Point | None]:
    """Return each trip's place in a metric CRS; None where it has none."""
    if not crs or not entries:
        return [None] * len(entries)
    lon = np.array([entry.x for entry in entries])
    lat = np.array([entry.y for entry in entries])
    known = np.isfinite(lon) & np.isfinite(lat)
    east, north = np.full(len(entries), np.nan), np.full(len(entries), np.nan)
    east[known], north[known] = transform_points(lon[known], lat[known], WGS84, crs)
    found = np.isfinite(east) & np.isfinite(north)
    return [Point(x, y) if good else None for x, y, good in zip(east, north, found, strict=True)]


def _at(entry: Entry, runs: Sequence[RunPlace], place: Point | None) -> list[RunPlace]:
    """Return the runs at a trip's place, nearest first."""
    apart = [(_apart(entry, run, place), number) for number, run in enumerate(runs)]
    return [runs[number] for distance, number in sorted(apart) if distance <= NEAR_M]


def _apart(entry: Entry, run: RunPlace, place: Point | None) -> float:
    """Return the distance of a trip from a run [m], 0 inside; infinity where that is not known."""
    if place is not None and run.outline is not None:
        return float(place.distance(run.outline))
    sides = {entry.bank, run.side}
    one_bank = len(sides) == 1 or "" in sides or Side.ISLAND.value in sides
    if not one_bank or not all(map(math.isfinite, (entry.station_m, run.start, run.end))):
        return math.inf
    return max(run.start - entry.station_m, entry.station_m - run.end, 0.0)


def _known(value: float | None) -> float:
    """Return a number of the report; NaN for null."""
    return math.nan if value is None else float(value)
