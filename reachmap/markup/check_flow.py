"""Check of the traced flow against the drawn width: a wrong unit gives an implausible depth."""

from __future__ import annotations

import math

from reachmap.base.errors import Fault
from reachmap.base.trend import median_slope
from reachmap.base.units import FACTORS
from reachmap.base.words import UnitSystem
from reachmap.markup.check_banks import median_width
from reachmap.markup.check_river import dem_gives_slope, level_slope
from reachmap.markup.config import flow_text
from reachmap.markup.drawing import Drawing
from reachmap.markup.places import length_words

ROUGHNESS = 0.035
"""Manning's n of a stony stream [s/m^(1/3)], Chow (1959) table 5-6; here it only judges units."""

DEPTH_LIMITS = (0.08, 6.0)
"""Limits of the mean depth of a traced flow [m] (our choice, generous both ways)."""


def traced_flow(drawing: Drawing) -> list[Fault]:
    """Return a fault where the traced flow would be implausibly shallow or deep."""
    flow, width, slope = drawing.reach_toml.plan.traced_flow, median_width(drawing), _slope(drawing)
    if math.isnan(flow) or not width > 0 or not slope > 0:
        return []
    depth = mean_depth(flow, width, slope)
    if DEPTH_LIMITS[0] <= depth <= DEPTH_LIMITS[1]:
        return []
    units = drawing.units
    factor = FACTORS["cfs"] if units is UnitSystem.METRIC else 1 / FACTORS["cfs"]
    other = "cfs" if units is UnitSystem.METRIC else "m3/s"
    meant = mean_depth(flow * factor, width, slope)
    hint = f"; was it meant in {other}?" if DEPTH_LIMITS[0] <= meant <= DEPTH_LIMITS[1] else ""
    found = (
        f"{flow_text(flow, units)} in a river {length_words(width, units)} wide that falls "
        f"{slope:.2g} would be {length_words(depth, units)} deep"
    )
    fix = f"Correct traced_flow, the slope, or the banks{hint}"
    return [Fault("reach.toml, [river] traced_flow", found, fix)]


def mean_depth(flow: float, width: float, slope: float) -> float:
    """Return the mean depth of uniform flow in a wide channel by Manning's formula [m].

    Parameters
    ----------
    flow
        Discharge [m3/s], >= 0.
    width
        Width of the water [m], > 0.
    slope
        Fall over distance [m/m], > 0.

    Notes
    -----
    h = (Q n / (W S^(1/2)))^(3/5), Manning's formula with the depth for the radius [1]_.

    References
    ----------
    .. [1] Chow (1959), Open-Channel Hydraulics, chapter 5; from memory.
    """
    return float((flow * ROUGHNESS / (width * math.sqrt(slope))) ** 0.6)


def _slope(drawing: Drawing) -> float:
    """Return the best slope known before the ground is made [m/m]; NaN for none."""
    main, reach_toml, heights = drawing.main, drawing.reach_toml, drawing.heights
    if main is None:
        return math.nan
    if not math.isnan(reach_toml.plan.slope):
        return reach_toml.plan.slope
    if not math.isnan(reach_toml.fall_m):
        return reach_toml.fall_m / float(main.length)
    if heights is not None and dem_gives_slope(drawing):
        return -median_slope(heights.station, heights.river)
    found = level_slope(drawing)
    return math.nan if found is None else found
