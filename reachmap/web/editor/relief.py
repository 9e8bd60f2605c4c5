"""The DEM as a shaded picture to draw over, laid in the projection of web maps."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import rasterio
from PIL import Image
from rasterio.errors import RasterioError
from rasterio.warp import Resampling, reproject, transform_bounds

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import WEB_MERCATOR
from reachmap.base.grid import Grid
from reachmap.base.picture import MapPicture, ground_size
from reachmap.base.rasters import open_raster
from reachmap.base.safe_files import RefusedError
from reachmap.base.shading import shade

MOST_CELLS = 2600
"""Longest side of the picture [cells] (our choice: a few megabytes, a few seconds)."""

PAPER = (236, 228, 208)
"""Tint of lit ground: that of the maps."""

QUALITY = 82
"""Of the picture's compression, 0 to 100."""


def relief(paths: Sequence[Path], unit_m: float) -> MapPicture | None:
    """Return the DEM's files as one shaded picture; None where none of them can be read.

    Parameters
    ----------
    paths
        Raster files with a CRS; others are left out, the check tells of them.
    unit_m
        Size of their unit of height [m].
    """
    found = [bounds for path in paths if (bounds := _bounds(path)) is not None]
    if not found:
        return None
    every = np.array([bounds for bounds, _ in found])
    left, bottom = every[:, :2].min(axis=0)
    right, top = every[:, 2:].max(axis=0)
    finest = min(cell for _, cell in found)
    cell = max(finest, (right - left) / MOST_CELLS, (top - bottom) / MOST_CELLS)
    shape = (math.ceil((top - bottom) / cell), math.ceil((right - left) / cell))
    grid = Grid.at_corner(left, top, cell, shape, WEB_MERCATOR)
    bright = shade(_heights(paths, grid) * unit_m, ground_size(grid))
    return MapPicture.on(grid, _picture(bright))


def _bounds(path: Path) -> tuple[tuple[float, float, float, float], float] | None:
    """Return a file's bounds and cell in Web Mercator; None where it has no place."""
    try:
        with open_raster(path) as source:
            if source.crs is None or source.transform.is_identity:
                return None
            left, bottom, right, top = transform_bounds(source.crs, WEB_MERCATOR, *source.bounds)
            cells = max(source.width, source.height)
    except (RefusedError, RasterioError, OSError, ValueError):
        return None
    if not np.isfinite([left, bottom, right, top]).all():
        return None
    return (left, bottom, right, top), max(right - left, top - bottom) / cells


def _heights(paths: Sequence[Path], grid: Grid) -> FloatArray:
    """Return heights on the grid, in the files' unit; NaN where none knows one."""
    heights = np.full(grid.shape, np.nan)
    for path in paths:
        one = np.full(heights.shape, np.nan)
        try:
            with open_raster(path) as source:
                if source.crs is None:
                    continue
                reproject(
                    rasterio.band(source, 1),
                    one,
                    dst_transform=grid.transform,
                    dst_crs=grid.crs,
                    dst_nodata=np.nan,
                    init_dest_nodata=True,
                    resampling=Resampling.bilinear,
                )
        except (RefusedError, RasterioError, OSError, ValueError):
            continue
        heights = np.where(np.isnan(heights), one, heights)
    return heights


def _picture(bright: FloatArray) -> bytes:
    """Return brightness as a tinted WebP, clear where the ground is not known."""
    known = np.isfinite(bright)
    level = np.clip(0.42 + 0.86 * np.nan_to_num(bright, nan=0.7), 0.0, 1.08)
    page = np.clip(np.array(PAPER) * level[..., None], 0, 255).astype(np.uint8)
    stream = io.BytesIO()
    picture = Image.fromarray(np.dstack([page, np.where(known, 255, 0).astype(np.uint8)]))
    picture.save(stream, "WEBP", quality=QUALITY, method=3)
    return stream.getvalue()
