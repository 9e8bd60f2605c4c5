"""Tracks walked along the water's edge, as edges at the flow of their time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from reachmap.base.arrays import BoolArray
from reachmap.markup.beside_river import beside_river
from reachmap.markup.features import Feature
from reachmap.markup.model import Edge, Origin
from reachmap.markup.tracks import Frame
from reachmap.markup.ways import Way, flow_of

THIN_M = 5.0
"""Places of a walk are averaged over so far [m]: a phone is off by about as much, alike from one
second to the next (our choice, 3-8)."""

NEAR_M = 30.0
"""A walked edge lies at most this far outside the drawn water [m]: further off somebody walked in
(our choice, 20-50: a river that rose from low to fishing height goes some 20 m up a flat bar)."""

FASTEST_M_S = 2.5
"""Faster than this nobody walks along an edge [m/s] (our choice, 2-3)."""

ACROSS = np.deg2rad(60.0)
"""A way that leaves the river's direction by more than this leads to the water or away from it
[rad] (our choice, 45-70)."""

SHORTEST_M = 30.0
"""A piece of edge shorter than this is not used [m]: a phone's error bends it (our choice,
20-50)."""

SIMPLE_M = 0.5
"""A line may leave the places by this when it is thinned [m]."""

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
    """Edges of one file, how much was walked and used [m], or why nothing is as (found, fix)."""

    edges: tuple[Edge, ...] = ()
    walked_m: float = 0.0
    used_m: float = 0.0
    wrong: tuple[str, str] | None = None


def walked_edges(
    ways: list[Way], rivers: tuple[Feature, ...], banks: tuple[Feature, ...], frame: Frame
) -> Walked:
    """Return the edges that a file's tracks walked along.

    Used are stretches near the drawn water, along it and at a walk; the way in, a crossing and the
    drive home are left out. The river's flow is one for each file.

    Parameters
    ----------
    ways
        Of one file.
    rivers, banks
        As drawn.
    frame
        Of the folder.
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
    """Return a way whose places are means over about `THIN_M`; standing still moves nothing."""
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
    """Return which places of a thinned way may be on the water's edge."""
    beside = beside_river(rivers, banks, way.x, way.y)
    if beside is None:
        return np.zeros(way.x.shape, dtype=bool)
    east, north = np.gradient(way.x), np.gradient(way.y)
    turn = np.arctan2(north, east) - beside.direction
    across = np.abs(np.arctan(np.tan(turn)))  # whichever way along: upstream or down
    near = beside.off <= beside.half + NEAR_M
    with np.errstate(invalid="ignore", divide="ignore"):
        speed = np.hypot(east, north) / np.gradient(way.seconds)
    return np.asarray(near & (across <= ACROSS) & ~(speed > FASTEST_M_S))


def _runs(good: BoolArray) -> list[Rows]:
    """Return the rows of each stretch of places that are good, two or more."""
    rows = np.flatnonzero(good)
    return [one for one in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if one.size > 1]


def _length(way: Way) -> float:
    """Return how long a way is [m]."""
    return float(np.hypot(np.diff(way.x), np.diff(way.y)).sum())
