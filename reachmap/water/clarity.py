"""Water clarity: visibility, and its effect on where fish hold."""

from __future__ import annotations

import math

from reachmap.markup.model import SeasonLimits
from reachmap.water.settings import WaterSettings

FARTHEST_M = 20.0
"""Farther than this nobody sees in a river [m]; our choice, 10-40."""


def clarity_law(low: tuple[float, float], high: tuple[float, float]) -> tuple[float, float]:
    """Return alpha and beta of clarity = alpha flow^-beta through two sightings.

    Parameters
    ----------
    low, high
        Flow [m3/s] and how far one saw at it [m], all > 0, at two different flows.

    Raises
    ------
    ValueError
        If a value is not positive or both flows are the same.

    Notes
    -----
    Of twelve New Zealand rivers eleven followed such a law well, beta 0.12 to 1.38 [1]_. Every
    river has its own: without two sightings there is none. It knows nothing of rise or fall: many
    rivers clear faster than they coloured.

    References
    ----------
    .. [1] Davies-Colley (1990), N.Z. Journal of Marine and Freshwater Research 24:453; abstract.
    """
    if min(*low, *high) <= 0 or low[0] == high[0]:
        msg = "flows and clarities must be > 0, and the flows differ"
        raise ValueError(msg)
    beta = math.log(low[1] / high[1]) / math.log(high[0] / low[0])
    return low[1] * low[0] ** beta, beta


def clarity_at(flow: float, settings: WaterSettings) -> float:
    """Return how far one sees at a flow [m]: by the river's law if there is one, else the day's."""
    return clarity_by(flow, settings.clarity_m, settings.clarity_law)


def clarity_by(flow: float, clarity_m: float, law: tuple[float, float] | None) -> float:
    """Return how far one sees at a flow [m]: by alpha and beta of a law, else `clarity_m`.

    No farther than `FARTHEST_M`: at low flow the law would see through a mile of water.
    """
    if law is None:
        return clarity_m
    alpha, beta = law
    return min(float(alpha * flow**-beta), FARTHEST_M)


def limits_in(settings: WaterSettings, clarity_m: float) -> SeasonLimits:
    """Return the season's limits at a clarity [m]: coloured water brings fish shallower.

    The least depth falls in proportion to clarity, from the season's own in clear water to
    `coloured_depth_m`. Common practice, no published source.
    """
    own = settings.limits
    share = min(max(clarity_m / settings.clear_m, 0.0), 1.0)
    low = max(own.depth_low_m * share, min(settings.coloured_depth_m, own.depth_low_m))
    return SeasonLimits(own.season, low, own.depth_high_m, own.speed_low_m_s, own.speed_high_m_s)
