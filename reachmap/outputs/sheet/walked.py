"""The line walked while fishing a run: from place to place down the prime stretch."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from shapely import LineString, Point

APART_M = 6.0
"""Length of bank within which only the best place is used [m]; our choice, 4-10."""


@dataclass(frozen=True, slots=True)
class Walked:
    """Places to stand in walking order, from the top of the stretch down [m].

    `line` joins them, smoothed; None where fewer than two places are known.
    """

    stands: tuple[Point, ...]
    line: LineString | None

    @property
    def start(self) -> Point | None:
        """Return the first place."""
        return self.stands[0] if self.stands else None

    @property
    def end(self) -> Point | None:
        """Return the last place; None where it is also the first."""
        return self.stands[-1] if len(self.stands) > 1 else None


def walked_line(places: gpd.GeoDataFrame, start_m: float, end_m: float) -> Walked:
    """Return the places of a run that are fished between two stations of the main line.

    Parameters
    ----------
    places
        Rows of the layer `stations` of one run at one flow; those without odds are not fished.
    start_m, end_m
        Ends of the prime stretch [m]; NaN for the whole run.
    """
    fished = places[places["odds"].notna()]
    station = fished["station_m"].to_numpy(dtype=np.float64)
    inside = np.isfinite(station)
    if np.isfinite(start_m) and np.isfinite(end_m):
        inside &= (station >= start_m - APART_M) & (station <= end_m + APART_M)
    mine = fished[inside]
    if not len(mine):
        return Walked((), None)
    mine = mine[mine["side"] == mine["side"].mode().iloc[0]]
    bins = np.floor(mine["station_m"].to_numpy(dtype=np.float64) / APART_M)
    best = mine.assign(bin=bins).sort_values("odds", ascending=False).drop_duplicates("bin")
    stands = tuple(best.sort_values("station_m").geometry)
    return Walked(stands, _cut_corners(stands) if len(stands) > 1 else None)


def _cut_corners(stands: tuple[Point, ...], times: int = 2) -> LineString:
    """Return a line along the places smoothed by corner cutting (Chaikin 1974), both ends kept."""
    points = np.array([(place.x, place.y) for place in stands], dtype=np.float64)
    for _ in range(times):
        near, far = points[:-1], points[1:]
        cut = np.stack((0.75 * near + 0.25 * far, 0.25 * near + 0.75 * far), axis=1)
        points = np.vstack((points[:1], cut.reshape(-1, 2), points[-1:]))
    return LineString(points)
