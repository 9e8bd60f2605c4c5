"""Positions along the river: stations of places, upper and lower ends of zones."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
import xarray as xr
from shapely import Point
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.base.grid import Grid
from reachmap.base.packed import values_at


def station_of(ground: xr.Dataset, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the stations of places, by the cell each lies in.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    x, y
        Coordinates in the project's CRS [m], shape (n,).

    Returns
    -------
    FloatArray
        Station [m], shape (n,); places outside the raster take the nearest cell's.
    """
    grid = Grid.of(ground)
    row, col, _ = grid.index(x, y)
    cells = (row * grid.shape[1] + col).astype(np.int32)
    return np.asarray(values_at(ground["station"], cells), dtype=np.float64)


def zone_ends(shapes: Sequence[BaseGeometry], ground: xr.Dataset) -> list[tuple[Point, Point]]:
    """Return the uppermost and lowermost points of the outlines of zones."""
    corners, owner = shapely.get_coordinates(shapes, return_index=True)
    station = station_of(ground, corners[:, 0], corners[:, 1])
    station = np.where(np.isnan(station), np.inf, station)
    return [_ends(corners[owner == one], station[owner == one]) for one in range(len(shapes))]


def _ends(corners: FloatArray, station: FloatArray) -> tuple[Point, Point]:
    """Return the uppermost and lowermost points; those of unknown station [m, inf] come last."""
    upper = corners[int(np.argmin(station))]
    lower = corners[int(np.argmax(np.where(np.isinf(station), -np.inf, station)))]
    return Point(upper), Point(lower)
