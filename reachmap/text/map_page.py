"""Sentences of the map's page around the map."""

from __future__ import annotations

from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem

TRENDS = ("rising", "falling", "steady")

METHODS = {
    "profile": "The water was worked out section by section, not over the whole bed: currents that "
    "cross the river, eddies and seams are only roughly placed.",
}
"""What the page says of ways to work out the water that have a weakness worth telling."""

NO_ENSEMBLE = (
    "How far the water could differ was not tried on other beds: how sure goes by what was "
    "measured nearby only."
)
HOW_DOUBT_IS_TOLD = (
    "A tap on the water tells how far its depth may be off: give or take twice the spread over the "
    "beds that what you gave allows. Specked water is a guess."
)


def gauge_sentence(day: str, flow: float, trend: str, units: UnitSystem) -> str:
    """Return where the gauge's record ends: day, flow [m3/s], and whether it rises or falls."""
    going = f" and {trend}" if trend in TRENDS else ""
    return (
        f"The gauge record you gave ends on {day} at {flow_words(flow, units)}{going}. Read the "
        "gauge before you go."
    )
