"""The raster frame: snapped square cells, the corridor the drawing supports, drawn polygons."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from affine import Affine
from rasterio.features import rasterize
from shapely import Polygon, union_all
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.markup.model import Markup


@dataclass(frozen=True, slots=True)
class Frame:
    """A raster of square cells whose edges lie on whole multiples of the cell.

    Parameters
    ----------
    crs
        The project's metric CRS.
    cell
        Side of a cell [m].
    west, north
        Outer edges [m].
    shape
        Rows (north to south) and columns (west to east).
    """

    crs: str
    cell: float
    west: float
    north: float
    shape: tuple[int, int]

    @classmethod
    def around(cls, bounds: tuple[float, float, float, float], crs: str, cell: float) -> Frame:
        """Return the least frame that holds `bounds` (west, south, east, north) [m]."""
        west, south = (math.floor(bound / cell) * cell for bound in bounds[:2])
        east, north = (math.ceil(bound / cell) * cell for bound in bounds[2:])
        shape = (round((north - south) / cell), round((east - west) / cell))
        return cls(crs, cell, west, north, shape)

    @property
    def x(self) -> FloatArray:
        """Return the cell centres from west to east [m]."""
        return np.asarray(self.west + (np.arange(self.shape[1]) + 0.5) * self.cell)

    @property
    def y(self) -> FloatArray:
        """Return the cell centres from north to south [m]."""
        return np.asarray(self.north - (np.arange(self.shape[0]) + 0.5) * self.cell)

    @property
    def transform(self) -> Affine:
        """Return column, row -> x, y."""
        return Affine(self.cell, 0.0, self.west, 0.0, -self.cell, self.north)

    def burn(
        self, shapes: Sequence[BaseGeometry], values: Sequence[int] | None = None
    ) -> np.ndarray:
        """Return an int32 raster: the value of the last shape that holds the cell's centre, else 0.

        `values` are 1, 2, 3 ... where not given.
        """
        codes = range(1, len(shapes) + 1) if values is None else values
        pairs = [
            (shape, code) for shape, code in zip(shapes, codes, strict=True) if not shape.is_empty
        ]
        if not pairs:
            return np.zeros(self.shape, dtype=np.int32)
        burnt: IntArray = rasterize(
            pairs, out_shape=self.shape, transform=self.transform, dtype=np.int32
        )
        return burnt

    def index(self, x: FloatArray, y: FloatArray) -> tuple[np.ndarray, np.ndarray, BoolArray]:
        """Return row, column of the cell that holds each place, and whether there is one.

        Row and column of a place outside are those of the nearest cell.
        """
        row = np.floor((self.north - y) / self.cell).astype(np.int64)
        col = np.floor((x - self.west) / self.cell).astype(np.int64)
        held = (row >= 0) & (row < self.shape[0]) & (col >= 0) & (col < self.shape[1])
        return row.clip(0, self.shape[0] - 1), col.clip(0, self.shape[1] - 1), held


@dataclass(frozen=True, slots=True)
class Corridor:
    """The cells the drawing supports, as flat lists in row order.

    Parameters
    ----------
    frame
        Where they lie.
    row, col
        Of each cell.
    number
        Raster of each cell's place in the lists; -1 outside the corridor.
    """

    frame: Frame
    row: np.ndarray
    col: np.ndarray
    number: np.ndarray

    @classmethod
    def of(cls, frame: Frame, inside: BoolArray) -> Corridor:
        """Return the corridor of the cells set in `inside`."""
        row, col = np.nonzero(inside)
        number = np.full(frame.shape, -1, dtype=np.int32)
        number[row, col] = np.arange(len(row), dtype=np.int32)
        return cls(frame, row, col, number)

    @property
    def x(self) -> FloatArray:
        """Return the cells' centres, east [m]."""
        return np.asarray(self.frame.x[self.col])

    @property
    def y(self) -> FloatArray:
        """Return the cells' centres, north [m]."""
        return np.asarray(self.frame.y[self.row])

    def spread(self, values: np.ndarray, fill: float) -> np.ndarray:
        """Return a raster of the cells' values, `fill` outside."""
        full = np.full(self.frame.shape, fill, dtype=values.dtype)
        full[self.row, self.col] = values
        return full

    def at(self, x: FloatArray, y: FloatArray) -> np.ndarray:
        """Return the number of the cell that holds each place, -1 outside the corridor."""
        row, col, held = self.frame.index(x, y)
        return np.where(held, self.number[row, col], -1)


def frame_of(markup: Markup, cell: float, margin: float) -> Frame:
    """Return the frame that holds the drawing and `margin` [m] about it."""
    west, south, east, north = drawn_area(markup).bounds
    bounds = (west - margin, south - margin, east + margin, north + margin)
    return Frame.around(bounds, markup.crs, cell)


def drawn_area(markup: Markup) -> BaseGeometry:
    """Return the union of the drawn banks and river lines."""
    return union_all(
        [*(bank.outline for bank in markup.banks), *(river.line for river in markup.rivers)]
    )


def corridor_of(
    frame: Frame, channel: Sequence[Polygon], markup: Markup, margin: float
) -> Corridor:
    """Return the cells within `margin` [m] of the banks and of the water between them."""
    area = union_all([*(bank.outline for bank in markup.banks), *channel]).buffer(
        margin, quad_segs=4
    )
    return Corridor.of(frame, frame.burn([area]) > 0)
