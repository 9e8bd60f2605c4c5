"""Water clarity: visibility, and its effect on where fish hold."""

from __future__ import annotations

from reachmap.gauge.flow_clarity import FlowClarity
from reachmap.markup.model import SeasonLimits
from reachmap.water.settings import WaterSettings


def clarity_at(flow: float, settings: WaterSettings) -> float:
    """Return the visibility at a flow [m]: by the river's law if there is one, else the day's."""
    return clarity_by(flow, settings.clarity_m, settings.clarity_law)


def clarity_by(flow: float, clarity_m: float, law: FlowClarity | None) -> float:
    """Return the visibility at a flow [m]: by a law, else `clarity_m`."""
    return clarity_m if law is None else law.at(flow).metres


def limits_in(settings: WaterSettings, clarity_m: float) -> SeasonLimits:
    """Return the season's limits at a clarity [m]: coloured water brings fish shallower.

    The least depth falls in proportion to clarity, from the season's own in clear water to
    `coloured_depth_m`. Common practice, no published source.
    """
    own = settings.limits
    share = min(max(clarity_m / settings.clear_m, 0.0), 1.0)
    low = max(own.depth_low_m * share, min(settings.coloured_depth_m, own.depth_low_m))
    return SeasonLimits(own.season, low, own.depth_high_m, own.speed_low_m_s, own.speed_high_m_s)
