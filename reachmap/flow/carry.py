"""Cells of a river as a list: levels carried on to dry ones, and which of them touch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

CARRIED_FROM = 4
"""Wet cells that the level on dry ground is the mean of; our choice, 1-8."""


@dataclass(frozen=True, slots=True)
class CellList:
    """Cells of a raster as a list, and where each stands in it.

    Parameters
    ----------
    rows, cols
        Place of each in the raster, shape (n,).
    number
        Place of each of the raster's cells in the list, -1 for none, shape (y, x).
    neighbours
        The cells to the west, east, north and south of each, -1 for none, shape (n, 4).
    """

    rows: IntArray
    cols: IntArray
    number: IntArray
    neighbours: IntArray

    @classmethod
    def of(cls, cells: IntArray, shape: tuple[int, int]) -> CellList:
        """Return cells given as rising indices into a raveled raster of some shape."""
        rows, cols = (one.astype(np.int32) for one in np.divmod(cells, shape[1]))
        number = np.full(shape, -1, dtype=np.int32)
        number.ravel()[cells] = np.arange(cells.size, dtype=np.int32)
        neighbours = np.full((cells.size, 4), -1, dtype=np.int32)
        for side, (there, step) in enumerate(
            (
                (cols > 0, -1),
                (cols < shape[1] - 1, 1),
                (rows > 0, -shape[1]),
                (rows < shape[0] - 1, shape[1]),
            )
        ):
            neighbours[there, side] = number.ravel()[cells[there] + step]
        return cls(rows, cols, number, neighbours)


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


def joined_cells(sides: IntArray, mask: BoolArray, seeds: BoolArray) -> BoolArray:
    """Return the cells of `mask` that cells of it join to those of `seeds`; `sides` are pairs."""
    a, b = sides[:, mask[sides].all(axis=0)]
    shape = (mask.size, mask.size)
    _, patch = connected_components(coo_matrix((np.ones(a.size, bool), (a, b)), shape))
    held = np.zeros(patch.max(initial=-1) + 1, dtype=bool)
    held[patch[mask & seeds]] = True
    return np.asarray(held[patch] & mask)
