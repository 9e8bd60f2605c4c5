"""The ground model an angler would have: flown at low water, blind to the bed beneath it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray

from reachmap.base.words import COVER_CODES, Cover

from . import plan
from .shapes import rough_ground
from .water import TrueWater, wet_at_one_metre

Float32Array = NDArray[np.float32]

EMPTY = -9999.0
FINEST = 1 / 128
"""Heights are whole multiples of this [m], which float32 holds exactly and deflate likes."""

NOISE_M = 0.035
"""Standard error of the flown ground on bare gravel [m]; twice that under brush and trees."""


def flown_ground(water: TrueWater) -> Float32Array:
    """Return the heights of the flight [m]: noisy ground, water flat across; NaN beyond."""
    wet, level = wet_at_one_metre(water, plan.DEM_FLOW_CFS)
    laid = water.laid
    shape = laid.bed.shape
    noise = 0.8 * rough_ground(shape, 0, 11) + 0.6 * rough_ground(shape, 3.0, 12)
    hidden = np.isin(laid.cover, [COVER_CODES[Cover.BRUSH], COVER_CODES[Cover.TREES]])
    ground = laid.bed + NOISE_M * np.where(hidden, 2.0, 1.0) * noise
    # a return from dry ground is never lower than the water beside it
    flown = np.where(wet, level, ground)
    return (np.rint(flown / FINEST) * FINEST).astype(np.float32)


def write_dem(path: Path, heights: Float32Array, water: TrueWater) -> None:
    """Write the ground model as a tiled GeoTIFF."""
    x, y = water.laid.x, water.laid.y
    where = Affine(1, 0, x[0] - 0.5, 0, -1, y[0] + 0.5)
    high, wide = heights.shape
    with rasterio.open(
        path, "w", driver="GTiff", width=wide, height=high, count=1, dtype="float32", crs=plan.CRS,
        transform=where, nodata=EMPTY, tiled=True, blockxsize=256, blockysize=256,
        compress="deflate", predictor=3, zlevel=9,
    ) as target:  # fmt: skip
        target.write(np.where(np.isfinite(heights), heights, np.float32(EMPTY)), 1)
        target.units = ("metre",)
        target.update_tags(river=plan.NAME, datum=plan.DATUM, note="invented; not a real place")
