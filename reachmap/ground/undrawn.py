"""Ground of a terrain model that may be water's surface: its bed was not seen."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import binary_opening, gaussian_filter

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.patches import EIGHT, patch_sizes
from reachmap.ground.raster import Corridor
from reachmap.ground.settings import GroundSettings

SMOOTH_M = 2.5
"""Reach over which the slope of the ground is taken [m]: lidar's noise of a few centimetres on
water leaves a slope of under 0.5 % over it. Our choice, 2-4."""


NEAR_M = 6.0
"""Reach over which the drawn water's own heights tell its level [m]; our choice, 4-10."""


def undrawn_water(
    corridor: Corridor,
    height: FloatArray,
    level: FloatArray,
    wet: BoolArray,
    slope: float,
    settings: GroundSettings,
) -> BoolArray:
    """Return which cells of a terrain model may be water that belongs to no drawn channel.

    Two ways: ground joined to the drawn water and no higher than that water's own surface beside
    it (water is not level across a bend, so the level along the line misses some of it); and flat
    ground near the river's level (a thread of a braided river stands higher or lower than the main
    one beside it). What lies under such water was never seen.

    Parameters
    ----------
    corridor
        The cells.
    height
        The terrain model at them [m]; NaN where it does not know.
    level
        Level of the drawn water on the day of the terrain model [m].
    wet
        Cells of that water.
    slope
        Fall of the river [m/m], > 0.
    settings
        `undrawn_slope`, `undrawn_height_m` and `undrawn_area_m2`.

    Notes
    -----
    Water falls with the river and is level across; a gravel bar that is as flat and as low is
    taken for water too, on the dry side.
    """
    dry = np.isfinite(height) & ~wet
    low = dry & (np.abs(height - level) <= settings.undrawn_height_m)
    flat = low & (_steepness(corridor, height) <= max(settings.undrawn_slope, 1.5 * slope))
    raster = binary_opening(corridor.spread(flat, 0).astype(bool))
    area = patch_sizes(raster, EIGHT) * corridor.grid.cell**2
    large = raster & (area >= settings.undrawn_area_m2)
    beside = dry & (height <= _surface_near(corridor, height, wet) + settings.waterline_m)
    joined = corridor.joined(beside | wet, wet)
    return np.asarray(large[corridor.row, corridor.col] | (beside & joined))


def _surface_near(corridor: Corridor, height: FloatArray, wet: BoolArray) -> FloatArray:
    """Return the mean height of the drawn water's surface near each cell [m]; -inf beyond reach."""
    sigma = NEAR_M / corridor.grid.cell / 2
    use = wet & np.isfinite(height)
    mean = float(height[use].mean()) if use.any() else 0.0
    weight = gaussian_filter(corridor.spread(use.astype(np.float64), 0.0), sigma, truncate=2.0)
    values = np.where(use, np.nan_to_num(height) - mean, 0.0)
    total = gaussian_filter(corridor.spread(values, 0.0), sigma, truncate=2.0)
    level = np.where(weight > 1e-6, total / np.maximum(weight, 1e-6) + mean, -np.inf)
    near: FloatArray = level[corridor.row, corridor.col]
    return near


def _steepness(corridor: Corridor, height: FloatArray) -> FloatArray:
    """Return the slope of the smoothed ground at the cells [m/m]; known ground alone counts."""
    cell = corridor.grid.cell
    known = corridor.spread(np.isfinite(height).astype(np.float64), 0.0)
    values = corridor.spread(np.nan_to_num(height), 0.0)
    sigma = max(SMOOTH_M / cell, 0.7)
    mean = float(np.nanmean(height)) if np.isfinite(height).any() else 0.0
    weight = np.maximum(gaussian_filter(known, sigma, mode="constant"), 1e-6)
    smooth = gaussian_filter((values - mean) * known, sigma, mode="constant") / weight
    north, east = np.gradient(smooth, cell)
    steep: FloatArray = np.hypot(north, east)[corridor.row, corridor.col]
    return steep
