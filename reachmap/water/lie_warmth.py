"""The water's temperature, and the limits of lies at it: colder fish keep to slower water."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.words import Season
from reachmap.gauge.series import Times
from reachmap.markup.model import LieLimits

FRESH = np.timedelta64(7 * 86400, "s")
"""Readings older than this before the gauge's last one say nothing of its water; our choice, 3-14
days."""

MEAN_OVER = np.timedelta64(2 * 86400, "s")
"""The median of readings over so long before the newest counts, so that neither a night nor an
afternoon decides; our choice, 1-3 days."""


class WarmthFrom(StrEnum):
    """Where the temperature of the water comes from."""

    ASKED = "asked"
    FOLDER = "folder"
    READINGS = "readings"


@dataclass(frozen=True, slots=True)
class Warmth:
    """A temperature of the water [C], where it comes from, and for readings the last one's time."""

    celsius: float
    origin: WarmthFrom
    when: np.datetime64 | None = None


def _usual() -> Mapping[Season, float]:
    """Return the temperature that each season's limits are meant for [C]."""
    return {Season.WINTER: 5.5, Season.SUMMER: 14.0}


@dataclass(frozen=True, slots=True)
class LieWarmth:
    """How the most speed near the bed at a lie goes with the water's temperature.

    See docs/reading-the-water.md for what is published and what is common practice.
    """

    usual_c: Mapping[Season, float] = field(default_factory=_usual)
    """The temperature at which the season's limits hold as they stand [C]; our choice, 4-7 in
    winter (42 F is where winter fish are said to begin to move, common practice) and 12-16 in
    summer."""
    per_degree: float = 0.05
    """Change of the logarithm of the speed a degree [1/C]; our choice, 0.02-0.09: the least is how
    the swimming of young fish changes (0.023 to 0.036 between 3 and 23 C, read in an abstract), the
    most how the day's table of quick water does (`planner.holding`), which is common practice."""
    share_low: float = 0.7
    share_high: float = 1.4
    """The speed falls to no less and rises to no more than these shares; our choice, 0.6-0.8 and
    1.2-1.6."""
    lively_c: float = 16.0
    """Warmer water adds nothing: fish are stressed from there on (common practice), and swim no
    faster beyond 15 to 20 C (abstracts)."""


def lies_at(limits: LieLimits, celsius: float, settings: LieWarmth | None = None) -> LieLimits:
    """Return the limits of lies in water of a temperature; as they are where it is not known.

    Parameters
    ----------
    limits
        The season's, the usual ones or the angler's own.
    celsius
        Temperature of the water [C]; NaN unknown.
    settings
        How they go with it.

    Notes
    -----
    speed = limit exp(k (T - Tu)), within the two shares. Depth stays: no source was found by which
    it would move, and slow water is deep often enough. Odds halve at the limit (`lies.lie_odds`).
    """
    if not math.isfinite(celsius):
        return limits
    rules = settings or LieWarmth()
    warmer = min(celsius, rules.lively_c) - rules.usual_c[limits.season]
    share = math.exp(rules.per_degree * warmer)
    share = min(max(share, rules.share_low), rules.share_high)
    return replace(limits, speed_high_m_s=limits.speed_high_m_s * share)


def newest_warmth(times: Times, celsius: FloatArray, last: np.datetime64) -> Warmth | None:
    """Return the temperature by the newest readings, in whole degrees; None where they are old.

    Parameters
    ----------
    times, celsius
        Readings (UTC) [C], in any order, shape (n,).
    last
        The gauge's last reading of flow: newer readings than `FRESH` before it count.

    Notes
    -----
    Whole degrees, so that a map is not read anew for every tenth that a day brings.
    """
    if not times.size or times.max() < last - FRESH:
        return None
    newest = times.max()
    mine = celsius[times > newest - MEAN_OVER]
    return Warmth(float(np.rint(np.median(mine))), WarmthFrom.READINGS, newest)
