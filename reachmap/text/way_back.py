"""The way back, and the effect of a little more water, in sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import length_words, number_of


def way_back_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the flow that closes the way back, to follow "Way back"; empty where not assessed.

    Parameters
    ----------
    row
        `flow`, `open_until_m3_s`, `cut_off_m3_s` [m3/s] and `cut_off_rise_m` [m].
    units
        The reach folder's units.
    """
    names = ("flow", "open_until_m3_s", "cut_off_m3_s", "cut_off_rise_m")
    flow, until, cut, rise = (number_of(row.get(name)) for name in names)
    if math.isnan(until):
        return ""
    if math.isnan(cut):
        return f"open up to {flow_words(until, units)}, the highest flow mapped."
    up = f", the water {length_words(rise, units)} higher than now" if math.isfinite(rise) else ""
    by = f"cut off by {flow_words(cut, units)}{up}"
    if until <= flow:
        return f"{by}: leave as soon as it rises."
    return f"{by}; still open at {flow_words(until, units)}."


def way_back_sentence(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the sentence on the way back; empty where it was not assessed."""
    words = way_back_words(row, units)
    return f"Way back {words}" if words else ""


def more_water_sentence(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the effect of a little more water on one place; empty where it stays open.

    Parameters
    ----------
    row
        `hand_shuts`, `hand_m` [m] and `hand_flow_m3_s` [m3/s].
    units
        The reach folder's units.
    """
    if not row["hand_shuts"]:
        return ""
    flow = number_of(row["hand_flow_m3_s"])
    at = f", about {flow_words(flow, units)}," if math.isfinite(flow) else ""
    return (
        f"{length_words(number_of(row['hand_m']), units)} more water{at} shuts it or the way to it."
    )
