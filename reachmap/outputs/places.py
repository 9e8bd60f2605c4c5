"""Where things lie along the river: upper and lower ends of a zone."""

from __future__ import annotations

import numpy as np
import shapely
import xarray as xr
from shapely import Point
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.base.grid import Grid


def station_of(ground: xr.Dataset, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return metres downstream of places, by the cell each lies in.

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
    row, col, _ = Grid.of(ground).index(x, y)
    return np.asarray(ground["station"].to_numpy()[row, col], dtype=np.float64)


def zone_ends(shape: BaseGeometry, ground: xr.Dataset) -> tuple[Point, Point]:
    """Return the uppermost and lowermost points of a zone's outline."""
    corners = shapely.get_coordinates(shape)
    station = station_of(ground, corners[:, 0], corners[:, 1])
    station = np.where(np.isnan(station), np.inf, station)
    upper = corners[int(np.argmin(station))]
    lower = corners[int(np.argmax(np.where(np.isinf(station), -np.inf, station)))]
    return Point(upper), Point(lower)
