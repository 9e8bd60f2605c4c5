"""Cells of a river as a list: levels carried on to dry ones, and which of them touch."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

CARRIED_FROM = 4
"""Wet cells that the level on dry ground is the mean of; our choice, 1-8."""


def carry_level(level: FloatArray, wet: BoolArray, places: IntArray) -> None:
    """Give dry cells the level of the wet ones next to them, in place.

    The mean of the nearest `CARRIED_FROM` wet cells, weighed by distance to the power -2: of cells
    equally near none is picked by chance. `places` are rows and columns.
    """
    if wet.any() and not wet.all():
        count = min(CARRIED_FROM, int(wet.sum()))
        away, near = cKDTree(places[wet]).query(places[~wet], k=[*range(1, count + 1)])
        level[~wet] = np.average(level[wet][near], axis=1, weights=away**-2.0)


def side_pairs(cells: IntArray, width: int) -> IntArray:
    """Return the pairs of rising raveled indices whose cells share a side, shape (2, p)."""
    pairs = []
    for step in (1, width):
        at = np.searchsorted(cells, cells + step)
        found = at < cells.size
        found[found] = cells[at[found]] == cells[found] + step
        if step == 1:
            found &= (cells + 1) % width != 0  # the next row begins there
        pairs.append(np.stack([np.flatnonzero(found), at[found]]))
    return np.concatenate(pairs, axis=1).astype(np.int32)
