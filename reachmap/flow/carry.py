"""Cells of a river as a list: levels carried on to dry ones, and the neighbours of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

CARRIED_FROM = 4
"""Wet cells that the level on dry ground is the mean of; our choice, 1-8."""


@dataclass(frozen=True, slots=True)
class SidedCells:
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
    def of(cls, cells: IntArray, shape: tuple[int, int]) -> SidedCells:
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
