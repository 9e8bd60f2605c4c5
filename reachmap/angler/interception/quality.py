"""Quality of a fly's swim at each moment of a swing: by its pace and its distance from the fish."""

from __future__ import annotations

import math

import numpy as np

from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.base.arrays import FloatArray


def view_radius(clarity_m: float, settings: InterceptionSettings) -> float:
    """Return the distance within which a fish takes a fly [m], by the visibility [m]."""
    return min(max(settings.view_share * clarity_m, settings.view_low_m), settings.view_high_m)


def swim_quality(
    across_m_s: FloatArray,
    fly_m: FloatArray,
    water_m: FloatArray,
    pace: tuple[float, float, float],
    clarity_m: float,
    settings: InterceptionSettings,
) -> FloatArray:
    """Return how well a fly fishes at each moment, 0 to 1; NaN counts as 0.

    Parameters
    ----------
    across_m_s
        Speed of the fly across the current [m/s], any shape.
    fly_m, water_m
        Depth of the fly below the surface, and of the water there [m], same shape.
    pace
        Wanted speed of the fly, its slowest and quickest [m/s].
    clarity_m
        Visibility [m].
    settings
        How far a fish comes up, and what a slow fly and a touch cost.

    Notes
    -----
    The product of two bells: over the log of the pace, one half-width of the wanted band wide, and
    over the gap between the fly and a fish `lie_height_m` above the bed. Too slow a fly keeps
    `slow_worth`. Our choice: the form of neither has been measured.
    """
    wanted, low, high = pace
    width = max(0.5 * math.log(high / low), 1e-6)
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.log(np.maximum(across_m_s, 0.02) / wanted) / width
        swum = np.exp(-0.5 * off**2)
        swum = np.where(across_m_s < wanted, np.maximum(swum, settings.slow_worth), swum)
        rise = min(max(settings.rise_share * clarity_m, settings.rise_low_m), settings.rise_high_m)
        gap = np.maximum(water_m - fly_m - settings.lie_height_m, 0.0)
        deep = np.exp(-0.5 * (gap / rise) ** 2)
        deep = np.where(water_m - fly_m < settings.touch_m, settings.touch_worth * deep, deep)
    return np.asarray(np.nan_to_num(swum * deep))
