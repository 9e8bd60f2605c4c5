"""Places relative to the drawn river: distance from its line, half-width, direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from reachmap.base.arrays import FloatArray
from reachmap.base.words import Side
from reachmap.markup.features import Feature, all_of

STEP_M = 10.0
"""Distance upstream and downstream over which the river's direction is taken [m] (our choice)."""

SPARE_HALF_WIDTH_M = 50.0
"""Half-width assumed where no bank is drawn [m] (our choice, on the wide side)."""


@dataclass(frozen=True, slots=True)
class RiverPosition:
    """Places relative to the nearest river line.

    Parameters
    ----------
    off
        Distance from the line [m], shape (n,).
    half
        Distance from the nearest point of the line to the nearest bank polygon [m].
    direction
        Downstream direction of the river there, anticlockwise from east [rad].
    """

    off: FloatArray
    half: FloatArray
    direction: FloatArray


def river_position(
    rivers: tuple[Feature, ...], banks: tuple[Feature, ...], x: FloatArray, y: FloatArray
) -> RiverPosition | None:
    """Return places relative to the river; None where no line is drawn.

    Parameters
    ----------
    rivers, banks
        As drawn. Islands do not count as banks here.
    x, y
        In the project's CRS [m], shape (n,).
    """
    lines = np.array(all_of(rivers), dtype=object)
    if not lines.size:
        return None
    outer = [
        one for one in banks if one.shape is not None and one.values["side"] is not Side.ISLAND
    ]
    points = shapely.points(x, y)
    away = np.stack([shapely.distance(line, points) for line in lines])
    mine = lines[away.argmin(axis=0)]
    foot = shapely.line_locate_point(mine, points)
    feet = shapely.line_interpolate_point(mine, foot)
    ends = [
        shapely.get_coordinates(shapely.line_interpolate_point(mine, at))
        for at in (np.maximum(foot - STEP_M, 0), np.minimum(foot + STEP_M, shapely.length(mine)))
    ]
    run = ends[1] - ends[0]
    half = (
        shapely.distance(shapely.union_all([one.shape for one in outer]), feet)
        if outer
        else np.full(x.shape, SPARE_HALF_WIDTH_M)
    )
    return RiverPosition(away.min(axis=0), np.asarray(half), np.arctan2(run[:, 1], run[:, 0]))
