"""The folder's picture from the air to draw over: the same file that a build lays under the map."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
from PIL import Image
from rasterio.errors import RasterioError

from reachmap.base.crs import WEB_MERCATOR, WGS84, transform_points
from reachmap.base.grid import Grid
from reachmap.base.imagery import extent_of, imagery_over
from reachmap.base.picture import MapPicture
from reachmap.base.safe_files import RefusedError

MOST_CELLS = 3000
"""Longest side of the picture [cells] (our choice: a few megabytes, a few seconds)."""

QUALITY = 75
"""Of the picture's compression, 0 to 100."""


def air_picture(path: Path, ground: MapPicture | None) -> MapPicture | None:
    """Return the picture over the shaded ground, over all of itself without one.

    None where it cannot be read, which the check tells of, or shows nothing there.

    Parameters
    ----------
    path
        A file that `markup.imagery.look_at_imagery` found fit.
    ground
        The shaded DEM, None without one.
    """
    try:
        bounds = extent_of(path) if ground is None else _bounds(ground)
        if bounds is None:
            return None
        west, south, east, north = bounds
        cell = max(east - west, north - south) / MOST_CELLS
        shape = (math.ceil((north - south) / cell), math.ceil((east - west) / cell))
        grid = Grid.at_corner(west, north, cell, shape, WEB_MERCATOR)
        colours = imagery_over(path, grid)
    except (RefusedError, RasterioError, OSError, ValueError):
        return None
    if not colours[..., 3].any():
        return None
    stream = io.BytesIO()
    Image.fromarray(colours).save(stream, "WEBP", quality=QUALITY, method=3)
    return MapPicture.on(grid, stream.getvalue())


def _bounds(ground: MapPicture) -> tuple[float, float, float, float]:
    """Return the bounds of a picture in Web Mercator [m]."""
    x, y = transform_points(
        np.array([ground.west, ground.east]),
        np.array([ground.south, ground.north]),
        WGS84,
        WEB_MERCATOR,
    )
    return float(x[0]), float(y[0]), float(x[1]), float(y[1])
