"""Sparse list of raster cells and its connected patches; cost grows with the cells alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from reachmap.base.arrays import BoolArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class CellList:
    """Some cells of a raster; what is known of them are arrays of shape (n,) in the same order.

    Parameters
    ----------
    shape
        Rows and columns of the raster.
    cells
        The cells as rising indices into the flattened raster, shape (n,).
    adjacent
        Pairs of places in the list whose cells share a side, each pair once, shape (2, m).
    """

    shape: tuple[int, ...]
    cells: IntArray
    adjacent: IntArray

    @classmethod
    def of(cls, mask: BoolArray) -> CellList:
        """Return the cells of a mask of shape (y, x)."""
        return cls.of_cells(np.flatnonzero(mask).astype(np.int32), mask.shape)

    @classmethod
    def of_cells(cls, cells: IntArray, shape: tuple[int, ...]) -> CellList:
        """Return cells given as rising indices into the flattened raster of a shape."""
        rows, width = shape
        place = np.arange(cells.size, dtype=np.int32)
        alone = cls(shape, cells, np.zeros((2, 0), dtype=np.int32))
        pairs = []
        for step, inner in ((1, cells % width < width - 1), (width, cells < (rows - 1) * width)):
            there = alone.places(cells[inner] + step)
            pairs.append(np.stack([place[inner], there])[:, there >= 0])
        return cls(shape, cells, np.concatenate(pairs, axis=1))

    def places(self, cells: IntArray) -> IntArray:
        """Return the places in the list of cells of the flattened raster; -1 where not in it."""
        if not self.cells.size:
            return np.full(np.shape(cells), -1, dtype=np.int32)
        found = np.searchsorted(self.cells, cells).clip(max=self.cells.size - 1)
        return np.where(self.cells[found] == cells, found, -1).astype(np.int32)

    def patches(self, mask: BoolArray) -> IntArray:
        """Return the number of the patch of each cell from 1, 0 outside `mask`; shapes (n,).

        Cells that share a side belong together; patches are numbered in the order of their first.
        """
        numbers = np.zeros(mask.size, dtype=np.int32)
        inside = np.flatnonzero(mask)
        numbers[inside] = np.arange(inside.size)
        one, other = self.adjacent
        joined = mask[one] & mask[other]
        ends = numbers[one[joined]], numbers[other[joined]]
        graph = coo_array((np.ones(ends[0].size, dtype=bool), ends), shape=(inside.size,) * 2)
        numbers[inside] = connected_components(graph, directed=False)[1] + 1
        return numbers

    def joined_to(self, seeds: BoolArray, mask: BoolArray) -> BoolArray:
        """Return the cells of patches of `mask` that hold one of `seeds` or more; shapes (n,)."""
        numbers = self.patches(mask)
        held = np.zeros(mask.size + 1, dtype=bool)
        held[numbers[seeds]] = True
        held[0] = False
        return held[numbers]
