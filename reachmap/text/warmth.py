"""The water's temperature in plain words, for fish and for those who play them."""

from __future__ import annotations

import math

from reachmap.base.language import noted, number_text, tr
from reachmap.base.units import TEMPERATURE, from_celsius
from reachmap.base.words import UnitSystem
from reachmap.planner.water_temp import Warmth, oxygen_mg_l, warmth_of

WARMTHS = {
    Warmth.COLD: noted("fish hardly move for a fly: fish slow and close"),
    Warmth.QUICK: noted("cold: slow water and a slow swing"),
    Warmth.LIVELY: noted("fish move well for a fly"),
    Warmth.WARM: noted("warm for these fish: land them quickly, keep them wet, stop early"),
    Warmth.REST: noted("too warm to play a fish that is to live: leave them in peace"),
}
"""Meaning of the water's temperature; common practice, no published source."""


def temperature_words(celsius: float, units: UnitSystem) -> str:
    """Return plain words on the water's temperature [C]; empty where it is not known."""
    warmth = warmth_of(celsius)
    if warmth is None:
        return ""
    degrees, digits = from_celsius(celsius, units), 0 if units is UnitSystem.US else 1
    shown = f"{number_text(degrees, digits)} {TEMPERATURE[units]}"
    oxygen = oxygen_mg_l(celsius)
    means = tr(WARMTHS[warmth])
    if math.isfinite(oxygen):
        return tr(
            "Water {shown}: {means} (common practice); it holds at most {oxygen} mg/L of oxygen.",
            shown=shown,
            means=means,
            oxygen=number_text(oxygen, 1),
        )
    return tr("Water {shown}: {means} (common practice).", shown=shown, means=means)
