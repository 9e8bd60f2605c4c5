"""Water surface in a DEM: its level along a channel on the day of the flight, and its extent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.trend import median_slope
from reachmap.ground.corridor import Corridor
from reachmap.ground.profiles import falling, smoothed_along
from reachmap.ground.sections import Sections
from reachmap.ground.settings import SurfaceSettings

CANDIDATES = (2, 5, 10, 20, 30, 40, 50, 60)
"""Percentiles of a row's heights tried as its level."""

MOST_ROWS = 400
"""Rows that a trend is taken from (our choice): more cost time by their square."""


@dataclass(frozen=True, slots=True)
class WaterSurface:
    """A level along a channel.

    Parameters
    ----------
    level
        At each vertex of the line [m], never rising downstream.
    seen
        Share of the rows at which water was seen as such, 0 to 1.
    spread
        Typical distance of the rows' own levels from `level` [m].
    """

    level: FloatArray
    seen: float
    spread: float


def find_water_surface(
    sections: Sections,
    height: FloatArray,
    tolerance: float,
    settings: SurfaceSettings,
    *,
    among: BoolArray | None = None,
) -> WaterSurface | None:
    """Return the level of the water a DEM shows between a channel's drawn edges.

    Water is flat across and falls along: in each row the height near which most points lie, where
    enough do; then, over the rows, the nearest profile that never rises downstream.

    Parameters
    ----------
    sections
        The channel's sections.
    height
        The DEM at the corridor's cells [m], NaN where it does not know.
    tolerance
        How far from a level a point may stand and count as on it [m].
    settings
        What it takes.
    among
        Rows of which enough must show water; None for all.

    Returns
    -------
    WaterSurface or None
        None where too few rows show water, or what they show rises along the river, or rises and
        falls, as beds do.
    """
    row_level, share = row_levels(sections.sample(height, np.nan), sections.within(), tolerance)
    seen = share >= settings.flat_share
    counted = seen if among is None else seen[among]
    if seen.sum() < 3 or counted.mean() < settings.row_share:
        return None
    line = sections.channel.line
    reach = int(sections.channel.median_width / line.step)
    seen &= _near_neighbours(row_level, seen, reach, settings.stray_m)
    if _rises(line.station[seen], row_level[seen], settings.rise_m):
        return None
    filled = np.interp(line.station, line.station[seen], row_level[seen])
    window = max(int(sections.channel.median_width / 4 / line.step) | 1, 3)
    calm = median_filter(filled, size=window, mode="nearest")
    level = smoothed_along(
        falling(calm, share + 1e-3), sections.channel.median_width / 8 / line.step
    )
    spread = float(np.median(np.abs(row_level[seen] - level[seen])))
    if spread > settings.spread_m:
        return None
    return WaterSurface(level, float(seen.mean()), spread)


def _rises(station: FloatArray, level: FloatArray, rise_m: float) -> bool:
    """Return whether the rows' levels rise downstream by more than `rise_m`, deaf to outliers."""
    if station.size < 3 or np.ptp(station) == 0:
        return False
    few = np.linspace(0, station.size - 1, min(station.size, MOST_ROWS)).astype(int)
    trend = median_slope(station[few], level[few])
    return trend * float(np.ptp(station)) > rise_m


def _near_neighbours(level: FloatArray, seen: BoolArray, reach: int, stray_m: float) -> BoolArray:
    """Return which rows' levels lie within `stray_m` of the median of those within `reach`."""
    rows = np.flatnonzero(seen)
    usual = median_filter(level[rows], size=2 * reach + 1, mode="reflect")
    near = np.zeros(len(level), dtype=bool)
    near[rows] = np.abs(level[rows] - usual) <= stray_m
    return near


def row_levels(
    height: FloatArray, within: BoolArray, tolerance: float
) -> tuple[FloatArray, FloatArray]:
    """Return each row's likeliest water level [m] and the share of its points that lie on it.

    Points the DEM does not know count as neither, but the share is of all points within the edges.
    """
    inside = np.where(within, height, np.nan)
    known = np.isfinite(inside).any(axis=1)
    level = np.full(len(height), np.nan)
    share = np.zeros(len(height))
    if not known.any():
        return level, share
    rows = inside[known]
    tried = np.nanpercentile(rows, CANDIDATES, axis=1)
    size = np.maximum(within[known].sum(axis=1), 1)
    on = np.stack([(np.abs(rows - one[:, None]) <= tolerance).sum(axis=1) for one in tried])
    best = on.argmax(axis=0)
    chosen = tried[best, np.arange(len(rows))]
    near = np.abs(rows - chosen[:, None]) <= tolerance
    level[known] = np.nanmean(np.where(near, rows, np.nan), axis=1)
    share[known] = near.sum(axis=1) / size
    return level, share


def noise_on_water(
    height: FloatArray, level: FloatArray, core: BoolArray, least: float, most: float
) -> float:
    """Return how far above the level a cell may stand and still be water [m]: three sigma.

    Parameters
    ----------
    height, level
        DEM and water level at the cells [m].
    core
        Cells of the drawn channel.
    least, most
        Bounds [m].
    """
    off = np.abs(height - level)[core]
    off = off[off <= most]
    # 1.48 turns a median absolute deviation into the standard deviation of a normal law.
    sigma = 1.48 * float(np.median(off)) if off.size else most
    return float(np.clip(3 * sigma, least, most))


def wet_that_day(
    corridor: Corridor, height: FloatArray, level: FloatArray, core: BoolArray, tolerance: float
) -> BoolArray:
    """Return which cells were under water when the DEM was flown.

    Those at or below the water's level, or unknown to the DEM, that join the drawn channel.

    Parameters
    ----------
    corridor
        The cells.
    height
        The DEM [m], NaN where it does not know.
    level
        The water's level at each cell [m].
    core
        Cells of the drawn channel.
    tolerance
        Height above the level that still counts as water [m].
    """
    low = (height <= level + tolerance) | (np.isnan(height) & core)
    return corridor.joined(low, core & low & np.isfinite(height))
