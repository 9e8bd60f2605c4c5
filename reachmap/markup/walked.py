"""Water's edges from tracks walked along them, at the flow of their time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from reachmap.base.arrays import BoolArray
from reachmap.markup.features import Feature
from reachmap.markup.model import Edge, Origin
from reachmap.markup.river_position import river_position
from reachmap.markup.tracks import Frame
from reachmap.markup.ways import Way, flow_of

THIN_M = 5.0
"""Distance over which the places of a walk are averaged [m]: about the error of a phone, which is
correlated from one second to the next (our choice, 3-8)."""

NEAR_M = 30.0
"""Largest distance of a walked edge outside the drawn water [m]: beyond, it is the way in
(our choice, 20-50: a river that rose from low to fishing height goes some 20 m up a flat bar)."""

FASTEST_M_S = 2.5
"""Largest walking speed along an edge [m/s] (our choice, 2-3)."""

ACROSS = np.deg2rad(60.0)
"""Largest angle between a walked edge and the river [rad]: beyond, it leads to the water or away
from it (our choice, 45-70 degrees)."""

SHORTEST_M = 30.0
"""Least length of a piece of edge [m]: a shorter one is bent by the phone's error (our choice,
20-50)."""

SIMPLE_M = 0.5
"""Tolerance of the simplification of a line [m]."""

NOT_ALONG = (
    f"no {SHORTEST_M:.0f} m of it run along the drawn river at a walk, within {NEAR_M:.0f} m of "
    "its water"
)
NOT_ALONG_FIX = (
    "If it was walked along the water's edge, look at the drawn banks; else take 'edge' out of its "
    "name"
)


Rows = np.ndarray[tuple[int], np.dtype[np.intp]]


@dataclass(frozen=True, slots=True)
class Walked:
    """Edges of one file, lengths walked and used [m], or why none is used as (found, fix)."""

    edges: tuple[Edge, ...] = ()
    walked_m: float = 0.0
    used_m: float = 0.0
    wrong: tuple[str, str] | None = None


def walked_edges(
    ways: list[Way], rivers: tuple[Feature, ...], banks: tuple[Feature, ...], frame: Frame
) -> Walked:
    """Return the water's edges along a file's tracks.

    Used are stretches near the drawn water, along it and at walking speed; the way in, a crossing
    and the drive home are left out. One flow applies to each file.

    Parameters
    ----------
    ways
        The paths recorded in one file.
    rivers, banks
        As drawn.
    frame
        Common properties of the folder.
    """
    seconds = np.concatenate([one.seconds for one in ways])
    flow = flow_of(ways[0].name.partition(",")[0], seconds, frame)
    if isinstance(flow, tuple):
        return Walked(wrong=flow)
    edges: list[Edge] = []
    walked = used = 0.0
    for way in ways:
        thin = thinned(way)
        if thin.x.size < 2:
            continue
        walked += _length(thin)
        for run in _runs(along_edge(thin, rivers, banks)):
            piece = thin.part(run)
            if _length(piece) >= SHORTEST_M:
                line = LineString(np.column_stack([piece.x, piece.y]))
                edges.append(Edge(shapely.simplify(line, SIMPLE_M), flow, way.date, Origin.WALK))
                used += _length(piece)
    if not edges:
        return Walked(walked_m=walked, wrong=(NOT_ALONG, NOT_ALONG_FIX))
    return Walked(tuple(edges), walked, used)


def thinned(way: Way) -> Way:
    """Return a path averaged over about `THIN_M` of its length; pauses have no effect."""
    groups = np.zeros(way.x.size, dtype=np.intp)
    x, y = float(way.x[0]), float(way.y[0])
    for k in range(1, way.x.size):
        groups[k] = groups[k - 1]
        if np.hypot(way.x[k] - x, way.y[k] - y) >= THIN_M:
            groups[k] += 1
            x, y = float(way.x[k]), float(way.y[k])
    count = np.bincount(groups)
    means = [np.bincount(groups, one) / count for one in (way.x, way.y, way.seconds)]
    return Way(way.name, *means)


def along_edge(way: Way, rivers: tuple[Feature, ...], banks: tuple[Feature, ...]) -> BoolArray:
    """Return a mask of the places of a thinned path that may lie on the water's edge."""
    position = river_position(rivers, banks, way.x, way.y)
    if position is None:
        return np.zeros(way.x.shape, dtype=bool)
    east, north = np.gradient(way.x), np.gradient(way.y)
    turn = np.arctan2(north, east) - position.direction
    across = np.abs(np.arctan(np.tan(turn)))  # upstream or downstream
    near = position.off <= position.half + NEAR_M
    with np.errstate(invalid="ignore", divide="ignore"):
        speed = np.hypot(east, north) / np.gradient(way.seconds)
    return np.asarray(near & (across <= ACROSS) & ~(speed > FASTEST_M_S))


def _runs(good: BoolArray) -> list[Rows]:
    """Return the rows of each stretch of two or more good places."""
    rows = np.flatnonzero(good)
    return [one for one in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if one.size > 1]


def _length(way: Way) -> float:
    """Return the length of a path [m]."""
    return float(np.hypot(np.diff(way.x), np.diff(way.y)).sum())
