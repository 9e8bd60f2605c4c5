"""Where a boat turns: there the beam leans, and the depth is not that below the place."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

from reachmap.base.arrays import BoolArray, FloatArray

LEVER_M = 5.0
"""The way before and after a place over which headings are taken [m] (our choice, 3-10: longer
than a receiver's error, shorter than a bend of the river)."""

SHARP = np.deg2rad(60.0)
"""A change of heading beyond this is a turn [rad] (our choice, 45-90)."""

SMOOTH_ROWS = 5
"""Places are averaged over so many first (our choice, 3-9): noise is no turn."""


def turning(x: FloatArray, y: FloatArray) -> BoolArray:
    """Return which points of a path lie in a sharp turn.

    Parameters
    ----------
    x, y
        Places in the order they were passed [m], shape (n,).

    Notes
    -----
    A place turns where the straight way from `LEVER_M` before it and that to `LEVER_M` after it
    differ in heading by more than `SHARP`. At the ends of a path, and where points lie further
    apart than the lever, nothing can be told and nothing turns.
    """
    if x.size < SMOOTH_ROWS:
        return np.zeros(x.shape, dtype=bool)
    east, north = (uniform_filter1d(one, SMOOTH_ROWS, mode="nearest") for one in (x, y))
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(east), np.diff(north)))])
    if way[-1] <= 2 * LEVER_M:
        return np.zeros(x.shape, dtype=bool)

    def at(where: FloatArray) -> FloatArray:
        return np.column_stack([np.interp(where, way, one) for one in (east, north)])

    here = at(way)
    into, out = here - at(way - LEVER_M), at(way + LEVER_M) - here
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    angle = np.abs(np.arctan2(cross, (into * out).sum(axis=1)))
    inside = (way > LEVER_M) & (way < way[-1] - LEVER_M)
    step = np.diff(way, prepend=0.0, append=way[-1])
    close = np.maximum(step[:-1], step[1:]) < LEVER_M
    return np.asarray(inside & close & (angle > SHARP))
