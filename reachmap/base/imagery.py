"""Aerial imagery (GeoTIFF, MBTiles, PMTiles) resampled onto a grid as colours."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rasterio.enums import ColorInterp, MaskFlags, Resampling
from rasterio.errors import NotGeoreferencedWarning
from rasterio.io import DatasetReader
from rasterio.vrt import WarpedVRT
from rasterio.warp import reproject, transform_bounds

from reachmap.base.arrays import BoolArray
from reachmap.base.crs import WEB_MERCATOR
from reachmap.base.grid import Bounds, Grid
from reachmap.base.rasters import open_imagery
from reachmap.base.safe_files import RefusedError
from reachmap.base.tile_archive import (
    archive_extent,
    is_tile_archive,
    look_into_archive,
    tiles_over,
)

Colours = NDArray[np.uint8]
"""Red, green, blue and how opaque, shape (rows, columns, 4)."""

STRETCH = (2.0, 98.0)
"""Percentiles that values beyond a byte are stretched between; common practice, no published
source."""

EXPORT = "Export it again as a GeoTIFF with red, green and blue, or take it out"


def look_into(path: Path) -> None:
    """Raise where a file cannot serve as a basemap; only its beginning is read.

    Raises
    ------
    RefusedError
        Saying what was found and how to mend it.
    rasterio.errors.RasterioError, OSError, ValueError
        If it cannot be read at all.
    """
    if is_tile_archive(path):
        look_into_archive(path)
        return
    with warnings.catch_warnings(), open_imagery(path) as source:
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        _refuse_unfit(source)


def extent_of(path: Path) -> Bounds | None:
    """Return a picture's bounds in Web Mercator [m]; None where it does not say.

    Raises
    ------
    RefusedError, rasterio.errors.RasterioError, OSError, ValueError
        As `look_into`.
    """
    if is_tile_archive(path):
        return archive_extent(path)
    with warnings.catch_warnings(), open_imagery(path) as source:
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        _refuse_unfit(source)
        west, south, east, north = transform_bounds(source.crs, WEB_MERCATOR, *source.bounds)
    good = bool(np.isfinite([west, south, east, north]).all()) and west < east and south < north
    return (west, south, east, north) if good else None


def imagery_over(path: Path, grid: Grid) -> Colours:
    """Return a picture from the air over a Web Mercator grid; clear where it shows nothing.

    Parameters
    ----------
    path
        A GeoTIFF, MBTiles or PMTiles file, looked into before.
    grid
        In Web Mercator.

    Raises
    ------
    RefusedError, rasterio.errors.RasterioError, OSError, ValueError
        As `look_into`, and if a part of it cannot be read.
    """
    if is_tile_archive(path):
        tiles, place = tiles_over(path, grid)
        return _onto(tiles, place, grid)
    with warnings.catch_warnings(), open_imagery(path) as source:
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        _refuse_unfit(source)
        with WarpedVRT(
            source,
            crs=grid.crs,
            transform=grid.transform,
            width=grid.shape[1],
            height=grid.shape[0],
            resampling=Resampling.average,
        ) as laid:
            return _colours(source, laid)


def _refuse_unfit(source: DatasetReader) -> None:
    """Raise for a raster that has no place, or no colours."""
    if source.crs is None or source.transform.is_identity:
        msg = "it does not say where it lies"
        raise RefusedError(msg, "Export it again with its coordinate system, or take it out")
    kinds = set(source.dtypes)
    if source.count < 1 or not kinds <= {"uint8", "uint16", "int16", "float32"}:
        msg = f"its cells are no colours ({', '.join(sorted(kinds))})"
        raise RefusedError(msg, EXPORT)


def _colours(source: DatasetReader, laid: WarpedVRT) -> Colours:
    """Return the bands of a picture laid on the grid as colours."""
    shown = laid.dataset_mask() > 0
    bands = [laid.read(band) for band in ((1, 2, 3) if source.count >= 3 else (1,))]
    palette = source.colorinterp[0] is ColorInterp.palette
    if palette:  # names of colours cannot be averaged: each cell takes the nearest
        with WarpedVRT(
            source, crs=laid.crs, transform=laid.transform, width=laid.width, height=laid.height
        ) as nearest:
            table = np.zeros((256, 3), dtype=np.uint8)
            for code, colour in source.colormap(1).items():
                table[code] = colour[:3]
            painted = table[nearest.read(1).astype(np.uint8)]
    else:
        grey = len(bands) == 1
        shades = [_byte(band, shown, source.dtypes[0]) for band in bands]
        painted = np.dstack(shades * 3 if grey else shades)
    if MaskFlags.all_valid in source.mask_flag_enums[0]:
        shown = _inside(source, laid)
    return np.dstack([painted, np.where(shown, 255, 0).astype(np.uint8)])


def _inside(source: DatasetReader, laid: WarpedVRT) -> BoolArray:
    """Return which cells of the grid a picture without a mask of its own reaches."""
    whole = np.ones((max(source.height // 64, 1), max(source.width // 64, 1)), dtype=np.uint8)
    scale = source.transform.scale(source.width / whole.shape[1], source.height / whole.shape[0])
    found = np.zeros((laid.height, laid.width), dtype=np.uint8)
    reproject(
        whole,
        found,
        src_transform=source.transform * scale,
        src_crs=source.crs,
        dst_transform=laid.transform,
        dst_crs=laid.crs,
        resampling=Resampling.nearest,
    )
    return np.asarray(found > 0)


def _byte(band: NDArray[np.generic], shown: BoolArray, kind: str) -> NDArray[np.uint8]:
    """Return a band as bytes; values beyond a byte are stretched over it."""
    if kind == "uint8":
        return band.astype(np.uint8)
    values = band.astype(np.float64)
    known = values[shown & np.isfinite(values)]
    if not known.size:
        return np.zeros(band.shape, dtype=np.uint8)
    low, high = np.percentile(known, STRETCH)
    share = (np.nan_to_num(values, nan=low) - low) / max(high - low, 1e-9)
    return np.asarray(np.clip(255 * share, 0, 255), dtype=np.uint8)


def _onto(tiles: Colours, place: Grid, grid: Grid) -> Colours:
    """Return colours of one Web Mercator grid on another."""
    found = np.zeros((4, *grid.shape), dtype=np.uint8)
    reproject(
        np.ascontiguousarray(np.moveaxis(tiles, 2, 0)),
        found,
        src_transform=place.transform,
        src_crs=WEB_MERCATOR,
        dst_transform=grid.transform,
        dst_crs=WEB_MERCATOR,
        resampling=Resampling.average,
    )
    return np.ascontiguousarray(np.moveaxis(found, 0, 2))
