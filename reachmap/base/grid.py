"""The raster grid: square cells in a metric CRS, rows from north to south."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
import shapely
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from rasterio import features
from rasterio.transform import array_bounds, from_origin
from shapely import Polygon
from shapely.geometry import mapping, shape
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

Window = tuple[slice, slice]
"""Rows and columns of a part of a grid."""

Bounds = tuple[float, float, float, float]
"""West, south, east, north [m]."""


@dataclass(frozen=True, slots=True)
class Cutout:
    """Values known in a window of a raster only: of one hazard or zone, whatever the raster's size.

    Parameters
    ----------
    window
        Where they lie.
    values
        An array of the window's shape.
    """

    window: Window
    values: NDArray[Any]

    def at(self, row: IntArray, col: IntArray, fill: float) -> NDArray[Any]:
        """Return the values of cells of the raster, `fill` outside the window."""
        r, c = row - self.window[0].start, col - self.window[1].start
        ok = (r >= 0) & (c >= 0) & (r < self.values.shape[0]) & (c < self.values.shape[1])
        found = np.full(ok.shape, fill, dtype=self.values.dtype)
        found[ok] = self.values[r[ok], c[ok]]
        return found


@dataclass(frozen=True, slots=True)
class Grid:
    """Square cells in a metric CRS; row 0 is the northernmost.

    Parameters
    ----------
    transform
        Column, row of a cell's corner -> x, y [m]; north up, no rotation.
    shape
        Rows and columns.
    crs
        Coordinate reference system, as pyproj reads it.
    """

    transform: Affine
    shape: tuple[int, int]
    crs: str

    @classmethod
    def at_corner(
        cls, west: float, north: float, cell: float, shape: tuple[int, int], crs: str
    ) -> Grid:
        """Return the grid with its outer north-west corner [m] and cells of `cell` [m]."""
        return cls(from_origin(west, north, cell, cell), shape, crs)

    @classmethod
    def around(cls, bounds: Bounds, cell: float, crs: str) -> Grid:
        """Return the least grid over `bounds` whose edges lie on whole multiples of the cell."""
        west, south = (math.floor(bound / cell) * cell for bound in bounds[:2])
        east, north = (math.ceil(bound / cell) * cell for bound in bounds[2:])
        shape = (round((north - south) / cell), round((east - west) / cell))
        return cls.at_corner(west, north, cell, shape, crs)

    @classmethod
    def of(cls, dataset: xr.Dataset) -> Grid:
        """Return the grid of a Dataset: coordinates `x`, `y` of the cell centres, attribute `crs`.

        The attribute `cell` counts only where there is one row or one column.

        Raises
        ------
        ValueError
            If rows run north or cells are not square.
        """
        x, y = (dataset[name].to_numpy().astype(np.float64) for name in ("x", "y"))
        wide, high = (
            (at[-1] - at[0]) / (at.size - 1) if at.size > 1 else sign * dataset.attrs["cell"]
            for at, sign in ((x, 1.0), (y, -1.0))
        )
        if wide <= 0 or not math.isclose(wide, -high, rel_tol=1e-6):
            msg = f"want square cells, columns eastward and rows southward; steps {wide}, {high}"
            raise ValueError(msg)
        west, north = float(x[0] - wide / 2), float(y[0] + wide / 2)
        return cls.at_corner(
            west, north, float(wide), (y.size, x.size), str(dataset.attrs.get("crs", ""))
        )

    @property
    def cell(self) -> float:
        """Return the side of a cell [m]."""
        return float(self.transform.a)

    @property
    def west(self) -> float:
        """Return the outer western edge [m]."""
        return float(self.transform.c)

    @property
    def north(self) -> float:
        """Return the outer northern edge [m]."""
        return float(self.transform.f)

    @property
    def bounds(self) -> Bounds:
        """Return the outer edges: west, south, east, north [m]."""
        west, south, east, north = array_bounds(*self.shape, self.transform)
        return float(west), float(south), float(east), float(north)

    @property
    def x(self) -> FloatArray:
        """Return the cell centres from west to east [m], shape (columns,)."""
        return np.asarray(self.west + (np.arange(self.shape[1]) + 0.5) * self.cell)

    @property
    def y(self) -> FloatArray:
        """Return the cell centres from north to south [m], shape (rows,)."""
        return np.asarray(self.north - (np.arange(self.shape[0]) + 0.5) * self.cell)

    def points(self, row: FloatArray | IntArray, col: FloatArray | IntArray) -> FloatArray:
        """Return coordinates [m], shape (n, 2), of rows and columns; whole numbers are centres."""
        x, y = _moved(self.transform, np.add(col, 0.5), np.add(row, 0.5))
        return np.column_stack((x, y))

    def position(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return fractional rows and columns of places [m]; whole numbers are cell centres."""
        col, row = _moved(~self.transform, x, y)
        return row - 0.5, col - 0.5

    def index(self, x: FloatArray, y: FloatArray) -> tuple[IntArray, IntArray, BoolArray]:
        """Return row and column of the cell that holds each place, and whether there is one.

        A place outside is given the row and column of the nearest cell.
        """
        col, row = (np.floor(at) for at in _moved(~self.transform, x, y))
        rows, cols = self.shape
        inside = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
        row, col = row.clip(0, rows - 1), col.clip(0, cols - 1)
        return row.astype(np.int32), col.astype(np.int32), np.asarray(inside)

    def window_over(self, bounds: Bounds, margin: int = 0) -> Window:
        """Return the rows and columns of the cells over `bounds` and `margin` cells about them.

        What lies outside the grid is cut off; the window may be empty.
        """
        west, south, east, north = bounds
        left, top = ~self.transform * (west, north)
        right, bottom = ~self.transform * (east, south)
        spans = ((top, bottom, self.shape[0]), (left, right, self.shape[1]))
        rows, cols = (
            slice(
                min(max(math.floor(low) - margin, 0), size),
                min(max(math.floor(high) + 1 + margin, 0), size),
            )
            for low, high, size in spans
        )
        return rows, cols

    def part(self, window: Window) -> Grid:
        """Return the grid of a window."""
        rows, cols = (range(size)[span] for span, size in zip(window, self.shape, strict=True))
        moved = self.transform * Affine.translation(cols.start, rows.start)
        return Grid(moved, (len(rows), len(cols)), self.crs)

    def coarsened(self, factor: int) -> Grid:
        """Return the grid of cells `factor` times as large that covers this one."""
        rows, cols = (-(-size // factor) for size in self.shape)
        return Grid(self.transform * Affine.scale(factor), (rows, cols), self.crs)

    def rasterize(
        self,
        shapes: Sequence[BaseGeometry],
        values: Sequence[int] | None = None,
        *,
        fill: int = 0,
        touched: bool = False,
    ) -> IntArray:
        """Return for each cell the value of the last shape that holds its centre, else `fill`.

        Parameters
        ----------
        shapes
            Geometries in the grid's CRS; empty ones are left out.
        values
            One a shape; 1, 2, 3 ... where not given.
        touched
            Count every cell a shape touches.
        """
        codes = range(1, len(shapes) + 1) if values is None else values
        pairs = [
            (_plain(one), code) for one, code in zip(shapes, codes, strict=True) if not one.is_empty
        ]
        if not pairs or 0 in self.shape:
            return np.full(self.shape, fill, dtype=np.int32)
        burnt: IntArray = features.rasterize(
            pairs,
            out_shape=self.shape,
            transform=self.transform,
            fill=fill,
            all_touched=touched,
            dtype=np.int32,
        )
        return burnt

    def polygons(self, labels: IntArray) -> Iterator[tuple[Polygon, int]]:
        """Yield the outline of each patch of cells with one label > 0, and the label.

        Cells that share a side belong together; holes are rings.
        """
        found = features.shapes(labels, mask=labels > 0, connectivity=4, transform=self.transform)
        for geometry, label in found:
            yield shape(geometry), int(label)


def _plain(geometry: BaseGeometry) -> dict[str, Any]:
    """Return a geometry as GeoJSON; rings as lists of arrays' numbers, quicker than `mapping`."""
    if geometry.geom_type == "Polygon":
        return {"type": "Polygon", "coordinates": _rings(geometry)}
    if geometry.geom_type == "MultiPolygon":
        return {"type": "MultiPolygon", "coordinates": [_rings(one) for one in geometry.geoms]}
    found: dict[str, Any] = mapping(geometry)
    return found


def _rings(polygon: Polygon) -> list[list[list[float]]]:
    """Return the rings of a polygon, the outer one first."""
    rings = (polygon.exterior, *polygon.interiors)
    return [shapely.get_coordinates(ring).tolist() for ring in rings]


def _moved(transform: Affine, a: FloatArray, b: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return transformed coordinates; affine computes with arrays, its types name floats alone."""
    moved: tuple[FloatArray, FloatArray] = cast("Any", transform) * (a, b)
    return moved
