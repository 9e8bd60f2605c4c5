"""Undrawn water in a DEM: cells whose height may be the water's surface, not the bed."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import binary_opening, gaussian_filter

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.patches import EIGHT, patch_sizes
from reachmap.ground.corridor import Corridor
from reachmap.ground.settings import GroundSettings

SMOOTH_M = 2.5
"""Reach over which the slope of the ground is taken [m]: lidar's noise of a few centimetres on
water leaves a slope of under 0.5 % over it. Our choice, 2-4."""

NEAR_M = 6.0
"""Reach over which the drawn water's own heights give its level [m]; our choice, 4-10."""

NEAR_CUT, SMOOTH_CUT = 2.0, 4.0
"""Sigmas after which the two Gaussians are cut off."""


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
    large = flat_ground(corridor, height, level, dry, slope, settings)
    beside = dry & (height <= _surface_near(corridor, height, wet) + settings.waterline_m)
    joined = corridor.joined(beside | wet, wet)
    return np.asarray(large | (beside & joined))


def flat_ground(
    corridor: Corridor,
    height: FloatArray,
    level: FloatArray,
    where: BoolArray,
    slope: float,
    settings: GroundSettings,
) -> BoolArray:
    """Return which of some cells are flat over a large patch near the river's level.

    Arguments as of `undrawn_water`; `where` are the cells that are looked at. A bed that is said to
    have been seen under water is such a patch where a model was filled with the water's surface.
    """
    low = where & (np.abs(height - level) <= settings.undrawn_height_m)
    flat = low & (_steepness(corridor, height) <= max(settings.undrawn_slope, 1.5 * slope))
    raster = binary_opening(corridor.spread(flat, 0).astype(bool))
    cells = corridor.row, corridor.col
    area = patch_sizes(raster, EIGHT)[cells] * corridor.grid.cell**2
    return np.asarray(raster[cells] & (area >= settings.undrawn_area_m2))


def _surface_near(corridor: Corridor, height: FloatArray, wet: BoolArray) -> FloatArray:
    """Return the mean height of the drawn water's surface near each cell [m]; -inf beyond reach."""
    sigma = NEAR_M / corridor.grid.cell / 2
    use = wet & np.isfinite(height)
    mean = float(height[use].mean()) if use.any() else 0.0
    values = np.where(use, np.nan_to_num(height) - mean, 0.0)
    near: FloatArray = np.empty(height.shape)
    done = 0
    for whole, part, mine in corridor.strips(_reach(sigma, NEAR_CUT)):
        weight, total = (
            gaussian_filter(
                part.spread(one[whole].astype(np.float64), 0.0), sigma, truncate=NEAR_CUT
            )[part.row[mine], part.col[mine]]
            for one in (use, values)
        )
        level = np.where(weight > 1e-6, total / np.maximum(weight, 1e-6) + mean, -np.inf)
        near[done : done + level.size] = level
        done += level.size
    return near


def _steepness(corridor: Corridor, height: FloatArray) -> FloatArray:
    """Return the slope of the smoothed ground at the cells [m/m]; known ground alone counts."""
    cell = corridor.grid.cell
    sigma = max(SMOOTH_M / cell, 0.7)
    mean = float(np.nanmean(height)) if np.isfinite(height).any() else 0.0
    known = np.isfinite(height)
    values = np.where(known, np.nan_to_num(height) - mean, 0.0)
    steep: FloatArray = np.empty(height.shape)
    done = 0
    for whole, part, mine in corridor.strips(_reach(sigma, SMOOTH_CUT) + 1):
        weight, total = (
            gaussian_filter(
                part.spread(one[whole].astype(np.float64), 0.0),
                sigma,
                mode="constant",
                truncate=SMOOTH_CUT,
            )
            for one in (known, values)
        )
        north, east = np.gradient(total / np.maximum(weight, 1e-6), cell)
        here = np.hypot(north, east)[part.row[mine], part.col[mine]]
        steep[done : done + here.size] = here
        done += here.size
    return steep


def _reach(sigma: float, cut: float) -> int:
    """Return how many cells a Gaussian reaches that is cut off after `cut` of its sigma."""
    return int(cut * sigma + 0.5)
