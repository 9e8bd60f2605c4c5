"""Odds that water suits the season's fish: smooth limits, averaged over what the map may be off."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from reachmap.base.arrays import FloatArray
from reachmap.base.near_bed import near_bed_share
from reachmap.base.patches import cells_of
from reachmap.markup.model import SeasonLimits
from reachmap.uncertainty.model_error import LEAST
from reachmap.water.field import WaterField
from reachmap.water.settings import SuitSettings


def membership(
    values: FloatArray,
    bounds: tuple[FloatArray | float, FloatArray | float],
    widths: tuple[float, float],
    spread: FloatArray | float = 0.0,
) -> FloatArray:
    """Return how well values suit a range with soft ends, averaged over their spread, 0 to 1.

    Parameters
    ----------
    values
        Depths [m] or speeds [m/s] as mapped; NaN stays NaN.
    bounds
        Least and greatest that suit; half suits there.
    widths
        Softness of either end, >= 0: the standard deviation of a normal curve.
    spread
        Standard deviation of the values [as they], >= 0; they are taken as normal.

    Notes
    -----
    m(x) = F((x - low)/w1) - F((x - high)/w2), F the normal law; over x ~ N(mu, s) its mean is the
    same with sqrt(w^2 + s^2) for w, exactly: F((x - low)/w) is the chance that low + w e < x.
    """
    size = [np.maximum(np.hypot(width, spread), LEAST) for width in widths]
    low, high = bounds
    found = ndtr((values - low) / size[0]) - ndtr((values - high) / size[1])
    # Ends of unlike softness that lie close together may cross by a hair.
    return np.asarray(np.maximum(found, 0.0))


def soft_odds(
    field: WaterField, limits: SeasonLimits, suits: SuitSettings, *, slow_share: float = 1.0
) -> FloatArray:
    """Return the odds that each cell suits the season's fish, shape (y, x), 0 to 1.

    Parameters
    ----------
    field
        The flow, with how far depth and speed may be off.
    limits
        Depths and speeds that suit.
    suits
        How gradually they set in; the greatest speed near the bed.
    slow_share
        Scales the least speed.

    Returns
    -------
    FloatArray
        Odds of depth times odds of speed, NaN where depth, speed or their spread is not known.

    Notes
    -----
    The product takes the errors of depth and speed as independent; docs/reading-the-water.md says
    how much that moves. A greatest speed near the bed acts as one of the mean speed, cell by cell:
    one is a fixed share of the other there.
    """
    rows, cols = cells_of(field.wet)
    depth, speed = field.depth[rows, cols], field.speed[rows, cols]
    quickest: FloatArray | float = limits.speed_high_m_s
    if np.isfinite(suits.bed_quick_m_s):
        share = near_bed_share(depth, field.roughness.values, suits.bed_height_m)
        quickest = np.minimum(quickest, suits.bed_quick_m_s / np.maximum(share, LEAST))
    deep = membership(
        depth,
        (limits.depth_low_m, limits.depth_high_m),
        (suits.thin_m, suits.deep_m),
        field.depth_spread.values,
    )
    quick = membership(
        speed,
        (slow_share * limits.speed_low_m_s, quickest),
        (suits.slow_m_s, suits.quick_m_s),
        field.speed_spread.values,
    )
    odds = np.full(field.wet.shape, np.nan)
    odds[rows, cols] = deep * quick
    return odds
