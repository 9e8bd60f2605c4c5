"""Line of sight over water: the cells for which a sounding is representative."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.ground.layout import Layout

BAR_CELLS = 2
"""Dry cells in a row that part two threads, of 1 m where the raster's are smaller; our choice, 1-3:
one may be a boulder."""


def in_sight(
    layout: Layout, water: BoolArray, cells: np.ndarray, soundings: np.ndarray, far: float
) -> BoolArray:
    """Return which cells lie in sight of a sounding over water.

    Parameters
    ----------
    layout
        The drawing laid out.
    water
        Corridor cells under the lowest water.
    cells
        Numbers of the cells to judge, shape (n,).
    soundings
        Numbers of the soundings' cells, shape (m,).
    far
        How far a sounding may stand for other cells [m].

    Returns
    -------
    BoolArray
        Shape (n,): whether some sounding within `far` has fewer than `BAR_CELLS` dry cells in a row
        on the straight line between; a sounding's own cell always is.
    """
    corridor = layout.corridor
    wet = corridor.spread(water, 0).astype(bool)
    row, col = corridor.row[cells].astype(np.float64), corridor.col[cells].astype(np.float64)
    seen = np.isin(cells, soundings)
    reach = far / corridor.grid.cell
    bar = round(BAR_CELLS * max(1.0 / corridor.grid.cell, 1.0))
    for number in soundings:
        from_row, from_col = float(corridor.row[number]), float(corridor.col[number])
        apart = np.hypot(row - from_row, col - from_col)
        near = np.flatnonzero(~seen & (apart <= reach))
        if near.size:
            ends = row[near], col[near]
            seen[near] = _clear(wet, (from_row, from_col), ends, apart[near], bar)
    return np.asarray(seen)


def _clear(
    wet: BoolArray,
    start: tuple[float, float],
    ends: tuple[FloatArray, FloatArray],
    apart: FloatArray,
    bar: int,
) -> BoolArray:
    """Return to which ends the straight line from a start meets no bar of so many dry cells."""
    steps = int(np.ceil(apart.max())) + 1
    dry_run = np.zeros(apart.size, dtype=np.int32)
    clear = np.ones(apart.size, dtype=bool)
    for step in range(1, steps + 1):
        share = np.minimum(step / np.maximum(apart, 1e-9), 1.0)
        row = np.rint(start[0] + share * (ends[0] - start[0])).astype(np.int32)
        col = np.rint(start[1] + share * (ends[1] - start[1])).astype(np.int32)
        dry_run = np.where(wet[row, col], 0, dry_run + 1)
        clear &= (dry_run < bar) | (share >= 1.0)
    return clear
