"""Where a trip lies along the river, and which runs of the last build trips belong to."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.errors import MarkupError
from reachmap.base.generation import REPORT
from reachmap.base.words import Part, Side
from reachmap.logbook.compare import Water
from reachmap.logbook.importing import Doubt, DoubtKind, name_alike
from reachmap.logbook.join import Joined, RunPlace, drawn_runs, join_trips, run_places
from reachmap.logbook.model import Entry
from reachmap.logbook.stats import run_key
from reachmap.pipeline.stamp import settled_folder
from reachmap.water.names import drawn_name

if TYPE_CHECKING:
    from shapely import LineString, Point

    from reachmap.markup.drawing import Drawing

LINE_STEP_M = 2.0
"""Spacing of the vertices of the drawn line [m]; our choice, 1-5."""

FAR_M = 500.0
"""A place farther than this from the river line is not on this river [m]; our choice, 200-2000."""


ASK_M = 5000.0
"""A place of a file's entry farther than this from the river line is asked about [m]; our choice,
1-20 km: one walks on beyond the mapped reach, not into another valley."""


class RunBook:
    """The runs of a reach folder: of its last build, or as drawn where nothing was built."""

    def __init__(self, folder: Path) -> None:
        """Note the folder; its files are read on first use."""
        self.folder = folder

    @cached_property
    def runs(self) -> list[RunPlace]:
        """Return the runs; none where nothing is built or drawn."""
        try:
            path = settled_folder(self.folder, None) / REPORT
            report = json.loads(path.read_text(encoding="utf-8"))
            if "runs_along" in report:
                return run_places(report["runs_along"])
            names = dict.fromkeys(str(row["run"]) for row in report["runs_by_flow"])
        except (OSError, ValueError, KeyError, TypeError):
            return drawn_runs(self.drawn)
        return [RunPlace(name, drawn=drawn_name(name, self.drawn)) for name in names]

    @cached_property
    def drawn(self) -> list[str]:
        """Return the names of the runs that are drawn, as far as the drawing can be read."""
        features: Any = () if self._drawing is None else self._drawing.features["runs"]
        return [str(name) for one in features if (name := one.values.get("name"))]

    def place_of(self, entry: Entry) -> tuple[float, str]:
        """Return a trip's station [m] and bank, by its place or the one run it names.

        Returns
        -------
        tuple[float, str]
            NaN and "" where neither is known.
        """
        if not (math.isnan(entry.x) or math.isnan(entry.y)):
            return self._along(entry.x, entry.y)
        same = [run for run in self.runs if entry.run and run.name == entry.run]
        if len(same) != 1 or math.isnan(same[0].start + same[0].end):
            return math.nan, ""
        return 0.5 * (same[0].start + same[0].end), same[0].side

    def placed(self, entry: Entry) -> Entry:
        """Return an entry with its station and bank, where these are known."""
        station, bank = self.place_of(entry)
        return entry if math.isnan(station) else replace(entry, station_m=station, bank=bank)

    def join(self, entries: Iterable[Entry]) -> Joined:
        """Return trips with the runs they belong to."""
        kept = [
            self.placed(one) if math.isnan(one.station_m) and not math.isnan(one.x) else one
            for one in entries
        ]
        return join_trips(kept, self.runs)

    def doubts(self, entry: Entry) -> list[Doubt]:
        """Return what is to be asked about an entry of a file: a run or a place that is not here.

        Where nothing is built, only a name much like a drawn one is doubted: a build names more.
        """
        found = []
        apart = max((self._apart(x, y) for x, y in _places(entry)), default=0.0)
        if apart > ASK_M:
            found.append(Doubt(DoubtKind.PLACE, apart_m=apart))
        if entry.run and self.runs and not self.join([entry]).runs_of:
            meant = name_alike(entry.run, [*self.drawn, *(run.name for run in self.runs)])
            if meant or any(math.isfinite(run.start) for run in self.runs):
                found.append(Doubt(DoubtKind.RUN, run=meant))
        return found

    def _apart(self, lon: float, lat: float) -> float:
        """Return how far a place in degrees lies from the river line [m]; 0 where none is drawn."""
        place = self._on_map(lon, lat)
        if place is None or self._line is None:
            return 0.0
        apart = float(self._line.distance(place))
        return apart if math.isfinite(apart) else math.inf

    def _on_map(self, lon: float, lat: float) -> Point | None:
        """Return a place in degrees as one of the drawing's CRS; None without a drawing."""
        if self._drawing is None:
            return None
        from shapely import Point

        x, y = transform_points(np.array([lon]), np.array([lat]), WGS84, self._drawing.crs)
        return Point(float(x[0]), float(y[0]))

    def _along(self, lon: float, lat: float) -> tuple[float, str]:
        """Return station [m] and bank of a place in degrees; NaN and "" far from the river."""
        place = self._on_map(lon, lat)
        if self._line is None or place is None or not self._line.distance(place) <= FAR_M:
            return math.nan, ""
        from reachmap.base.centreline import Centreline

        x, y = np.array([place.x]), np.array([place.y])
        _, offset = Centreline.along(self._line, LINE_STEP_M).to_station_offset(x, y)
        side = Side.LEFT if offset[0] > 0 else Side.RIGHT
        return float(self._line.project(place)), side.value

    @cached_property
    def _drawing(self) -> Drawing | None:
        """Return the drawing as read; None where it cannot be."""
        from reachmap.markup.read import read_drawing

        try:
            return read_drawing(self.folder)[0]
        except MarkupError:
            return None

    @cached_property
    def _line(self) -> LineString | None:
        """Return the main river line; None where none is drawn."""
        features: Any = () if self._drawing is None else self._drawing.features["river"]
        lines = [one for one in features if one.shape is not None]
        main = [one for one in lines if one.values.get("part") in (Part.MAIN, Part.MAIN.value)]
        found: LineString | None = (main or lines)[0].shape if lines else None
        return found


def _places(entry: Entry) -> list[tuple[float, float]]:
    """Return the places of an entry and of what was seen [degrees]."""
    own = [] if math.isnan(entry.x) or math.isnan(entry.y) else [(entry.x, entry.y)]
    return [*own, *((seen.x, seen.y) for seen in entry.seen)]


def built_waters(folder: Path) -> dict[str, list[Water]]:
    """Return each run's best water at every flow of the last build; none without a build."""
    try:
        path = settled_folder(folder, None) / REPORT
        rows = json.loads(path.read_text(encoding="utf-8"))["runs_by_flow"]
        found: dict[str, list[Water]] = {}
        for row in rows:
            numbers = (row["flow"], row["depth_m"], row["speed_m_s"])
            water = Water(*(math.nan if one is None else float(one) for one in numbers))
            found.setdefault(run_key(str(row["run"])), []).append(water)
    except (OSError, ValueError, KeyError, TypeError):
        return {}
    return found
