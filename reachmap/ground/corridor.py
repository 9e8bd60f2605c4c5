"""The reach's grid, and the corridor: the cells the drawing supports."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon, union_all
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.grid import Grid
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import EIGHT, Patches
from reachmap.markup.model import Markup

STRIP = 256
"""Rows of a strip, in which filters over a long river's corridor are worked out (our choice, 100 to
1,000): lower ones have more margin about them, higher ones more ground that is no corridor."""


@dataclass(frozen=True, slots=True)
class Corridor:
    """The cells the drawing supports, as flat lists in row order.

    Parameters
    ----------
    grid
        Where they lie.
    row, col
        Of each cell.
    number
        Raster of each cell's place in the lists; -1 outside the corridor.
    """

    grid: Grid
    row: np.ndarray
    col: np.ndarray
    number: np.ndarray

    @classmethod
    def of(cls, grid: Grid, inside: BoolArray) -> Corridor:
        """Return the corridor of the cells set in `inside`."""
        row, col = np.nonzero(inside)
        number = np.full(grid.shape, -1, dtype=np.int32)
        number[row, col] = np.arange(len(row), dtype=np.int32)
        return cls(grid, row, col, number)

    @property
    def x(self) -> FloatArray:
        """Return the cells' centres, east [m]."""
        return np.asarray(self.grid.x[self.col])

    @property
    def y(self) -> FloatArray:
        """Return the cells' centres, north [m]."""
        return np.asarray(self.grid.y[self.row])

    def spread(self, values: np.ndarray, fill: float) -> np.ndarray:
        """Return a raster of the cells' values, `fill` outside."""
        full = np.full(self.grid.shape, fill, dtype=values.dtype)
        full[self.row, self.col] = values
        return full

    def packed(self, values: np.ndarray, fill: float) -> PackedRaster:
        """Return what `spread` would, held by the cells."""
        cells = (self.row * np.int64(self.grid.shape[1]) + self.col).astype(np.int32)
        return PackedRaster.of_list(self.grid.shape, fill, cells, values)

    def strips(self, margin: int) -> Iterator[tuple[slice, Corridor, slice]]:
        """Yield the corridor in strips of `STRIP` rows, as corridors of their own.

        Parameters
        ----------
        margin
            Cells about a strip that come with it, up to the edge of the grid: what is worked out
            of cells no farther off is in a strip what it is in the whole grid.

        Yields
        ------
        whole, part, mine
            The lists' cells in the strip and `margin` rows about it; the corridor of these; and
            those of its cells that lie in the strip itself.
        """
        rows, cols = self.grid.shape
        for first in range(0, rows, STRIP):
            low, high = max(first - margin, 0), min(first + STRIP + margin, rows)
            begin, start, end, stop = np.searchsorted(
                self.row, (low, first, first + STRIP, high)
            ).tolist()
            if start == end:
                continue
            whole = slice(begin, stop)
            left = max(int(self.col[whole].min()) - margin, 0)
            right = min(int(self.col[whole].max()) + margin + 1, cols)
            inside = np.zeros((high - low, right - left), dtype=bool)
            inside[self.row[whole] - low, self.col[whole] - left] = True
            part = Corridor.of(self.grid.part((slice(low, high), slice(left, right))), inside)
            yield whole, part, slice(start - begin, end - begin)

    def joined(self, mask: BoolArray, start: BoolArray) -> BoolArray:
        """Return the cells of `mask` connected to `start` cells through it, corners included."""
        patches = Patches.of(self.spread(mask, 0), EIGHT)
        held = patches.holding(self.spread(start, 0).astype(bool))
        return np.asarray(held[patches.labels[self.row, self.col]])

    def at(self, x: FloatArray, y: FloatArray) -> np.ndarray:
        """Return the number of the cell that holds each place, -1 outside the corridor."""
        row, col, held = self.grid.index(x, y)
        return np.where(held, self.number[row, col], -1)


def grid_of(markup: Markup, cell: float, margin: float) -> Grid:
    """Return the grid that holds the drawing and `margin` [m] about it."""
    west, south, east, north = drawn_area(markup).bounds
    bounds = (west - margin, south - margin, east + margin, north + margin)
    return Grid.around(bounds, cell, markup.crs)


def drawn_area(markup: Markup) -> BaseGeometry:
    """Return the union of the drawn banks and river lines."""
    return union_all(
        [*(bank.outline for bank in markup.banks), *(river.line for river in markup.rivers)]
    )


def corridor_of(grid: Grid, channel: Sequence[Polygon], markup: Markup, margin: float) -> Corridor:
    """Return the cells within `margin` [m] of the banks and of the water between them."""
    area = union_all([*(bank.outline for bank in markup.banks), *channel]).buffer(
        margin, quad_segs=4
    )
    return Corridor.of(grid, grid.rasterize([area]) > 0)
