"""Sharp turns of a boat, where the sounder's beam tilts and its depths are unreliable."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

from reachmap.base.arrays import BoolArray, FloatArray

LEVER_M = 5.0
"""Distance before and after a place over which headings are taken [m] (our choice, 3-10: longer
than a receiver's error, shorter than a bend of the river)."""

SHARP = np.deg2rad(60.0)
"""A change of heading beyond this is a turn [rad] (our choice, 45-90 degrees)."""

SMOOTH_ROWS = 5
"""Window of the moving average over places, against noise (our choice, 3-9)."""


def turning(x: FloatArray, y: FloatArray) -> BoolArray:
    """Return a mask of the points of a path that lie in a sharp turn, shape (n,).

    Parameters
    ----------
    x, y
        Places in the order they were passed [m], shape (n,).

    Notes
    -----
    A point lies in a turn where the straight lines from `LEVER_M` before it and to `LEVER_M` after
    it differ in heading by more than `SHARP`. False at the ends of a path, and where points lie
    further apart than `LEVER_M`.
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
