"""Whether fish would hold and find the fly in water of a depth and speed, as it looks that day.

By depth and speed of each run's best water at the flow, not by the name of its kind: coloured
water is fished shallow, clear water deep, cold water slow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class HoldingSettings:
    """How depth and speed suit clarity and warmth; common practice without a source."""

    fly_depth_share: float = 0.4
    """Share of the depth at which the fly swings; our choice, 0.3-0.5."""
    sight_share: float = 1.0
    """Distance at which a fish finds the fly, as a share of the clarity; our choice, 0.7-1.5."""
    cover_share: float = 0.4
    """Depth from which fish feel covered, as a share of the clarity; our choice, 0.2-0.6."""
    least: float = 0.5
    """Share that is left in water twice too deep, without depth or twice too quick; our choice,
    0.3-0.7."""
    speed_table: tuple[tuple[float, float], ...] = (
        (2.0, 0.7),
        (5.0, 0.9),
        (8.0, 1.3),
        (12.0, 1.8),
    )
    """Quickest water [m/s] in which fish move for a swung fly at a temperature of the water [C]."""


def hold_share(
    depth_m: FloatArray,
    speed_m_s: FloatArray,
    clarity_m: FloatArray,
    celsius: FloatArray,
    settings: HoldingSettings,
) -> FloatArray:
    """Return how well water suits the day, 0 to 1; an unknown value takes nothing.

    Parameters
    ----------
    depth_m, speed_m_s
        Of the run's best water at the flow.
    clarity_m
        Clarity [m].
    celsius
        Temperature of the water [C].
    settings
        The rules. The arguments broadcast together.

    Notes
    -----
    The fly swings at a share of the depth and a fish holds near the bed: it finds the fly if the
    rest of the depth is within its sight. In water shallower than a share of the clarity a fish is
    not covered. Each rule falls linearly from 1 at its bound to `least` at twice it, or at zero
    depth.
    """
    warmth, quick = (np.array(one) for one in zip(*settings.speed_table, strict=True))
    gap = (1 - settings.fly_depth_share) * depth_m
    with np.errstate(divide="ignore", invalid="ignore"):
        found = _beyond(gap / (settings.sight_share * clarity_m), settings.least)
        covered = np.minimum(depth_m / (settings.cover_share * clarity_m), 1.0)
        quickest = np.interp(celsius, warmth, quick)
        still = _beyond(speed_m_s / quickest, settings.least)
    hidden = settings.least + (1 - settings.least) * covered
    each = (np.where(np.isnan(one), 1.0, one) for one in (found, hidden, still))
    first, second, third = each
    return np.asarray(first * second * third)


def _beyond(ratio: FloatArray, least: float) -> FloatArray:
    """Return 1 up to a ratio of 1, falling linearly to `least` at 2 and beyond; NaN stays NaN."""
    return np.asarray(1 - (1 - least) * np.clip(ratio - 1, 0.0, 1.0))
