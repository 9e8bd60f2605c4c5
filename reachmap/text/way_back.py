"""The way back, and the effect of a little more water, in sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reachmap.base.language import tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import length_words, number_of


def way_back_words(row: Mapping[str, Any], units: UnitSystem, *, short: bool = False) -> str:
    """Return the flow that closes the way back, to follow "Way back"; empty where not assessed.

    Parameters
    ----------
    row
        `flow`, `open_until_m3_s`, `cut_off_m3_s` [m3/s] and `cut_off_rise_m` [m].
    units
        The reach folder's units.
    short
        Whether to leave out up to which flow it is still open, and the full stop.
    """
    names = ("flow", "open_until_m3_s", "cut_off_m3_s", "cut_off_rise_m")
    flow, until, cut, rise = (number_of(row.get(name)) for name in names)
    if math.isnan(until):
        return ""
    if math.isnan(cut):
        opened = tr("open up to {until}, the highest flow mapped", until=flow_words(until, units))
        return opened if short else f"{opened}."
    by = tr("cut off by {cut}", cut=flow_words(cut, units))
    if math.isfinite(rise):
        by = tr(
            "cut off by {cut}, the water {rise} higher than now",
            cut=flow_words(cut, units),
            rise=length_words(rise, units),
        )
    if short and until > flow:
        return by
    if until <= flow:
        return tr("{by}: leave as soon as it rises.", by=by)
    return tr("{by}; still open at {until}.", by=by, until=flow_words(until, units))


def way_back_sentence(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the sentence on the way back; empty where it was not assessed."""
    words = way_back_words(row, units)
    return tr("Way back {words}", words=words) if words else ""


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
    hand = length_words(number_of(row["hand_m"]), units)
    if not math.isfinite(flow):
        return tr("{hand} more water shuts it or the way to it.", hand=hand)
    return tr(
        "{hand} more water, about {flow}, shuts it or the way to it.",
        hand=hand,
        flow=flow_words(flow, units),
    )
