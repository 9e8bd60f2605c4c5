"""Image overlay of a web map: an image and its edges in longitude and latitude."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.grid import Grid


@dataclass(frozen=True, slots=True)
class MapPicture:
    """An image in Web Mercator: encoded bytes, edges in WGS84 [degrees], size [px].

    `pixel_m` is the side of a pixel on the ground [m], at the picture's middle.
    """

    data: bytes
    south: float
    west: float
    north: float
    east: float
    width: int
    height: int
    pixel_m: float

    @classmethod
    def on(cls, grid: Grid, data: bytes) -> MapPicture:
        """Return a picture of one pixel for each cell of a Web Mercator grid."""
        west, south, east, north = grid.bounds
        longitude, latitude = transform_points(
            np.array([west, east]), np.array([south, north]), grid.crs, WGS84
        )
        return cls(
            data,
            south=float(latitude[0]),
            west=float(longitude[0]),
            north=float(latitude[1]),
            east=float(longitude[1]),
            width=grid.shape[1],
            height=grid.shape[0],
            pixel_m=ground_size(grid),
        )


def ground_size(grid: Grid) -> float:
    """Return the side of a Web Mercator grid's cell on the ground [m], at the grid's middle.

    Lengths are drawn 1 / cos(latitude) times as long as they are (spherical Mercator).
    """
    _, south, _, north = grid.bounds
    _, latitude = transform_points(
        np.array([grid.west]), np.array([(south + north) / 2]), grid.crs, WGS84
    )
    return grid.cell * math.cos(math.radians(float(latitude[0])))
