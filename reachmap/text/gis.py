"""Words in files for desktop GIS: groups, layers, classes of colour, nodata."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from reachmap.base.language import figures_text, number_text
from reachmap.base.units import from_si
from reachmap.base.words import Wet

DRAWN_GROUP = "At every flow"
"""Group of layers that do not change with the flow."""

FLOWS_GROUP = "One flow at a time"
"""Group of the groups of each flow."""

TITLES: Mapping[str, str] = {
    "hazards_drawn": "Hazards you drew",
    "hazard_outlines": "Their outlines",
    "access_drawn": "Ways in",
    "asks": "Worth a note",
    "runs": "Runs",
    "hazards_near": "Hazards near this water",
    "stations": "Where to stand and cast",
    "structure": "Where fish lie",
    "swings": "Swings",
    "seams": "Seams",
    "tailouts": "Tailouts",
    "lanes": "Lines where most fish pass",
    "water": "Water worth fishing",
    "bars": "Bars and islands",
    "wading": "Wading, for you",
    "channels": "Channels",
    "wetted": "Water's edge",
    "depth": "Depth",
    "speed": "Speed",
    "level": "Water surface height",
    "wet": "Wet, dry, not known",
    "suits_chance": "Odds of soft water",
    "wet_chance": "Odds of being wet",
    "depth_spread": "Doubt of the depth",
    "speed_spread": "Doubt of the speed",
    "agreement": "Odds of depth and speed as mapped",
}
"""Names of layers in a project."""

WET_WORDS: Mapping[Wet, str] = {
    Wet.NO: "Dry",
    Wet.YES: "Water",
    Wet.UNKNOWN: "Not known: treat as deep and fast",
}
"""Names of the codes of `wet`."""

NO_VALUE = "no data (-9999) where dry or not known; the raster `wet` of this flow tells which"
"""Meaning of a cell without a value: the file has the nodata value, never NaN."""

NOT_KNOWN = "no data (-9999) where not known"
"""The same of odds, which are 0 where dry."""

HATCHES = "Crossed lines: beyond your limits, stay out. Bricks: not known, treat as beyond."
"""Key of the two most important hatches on a printed page."""


def layout_name(flow: str) -> str:
    """Return the name of the print layout of a flow, named as a person reads it."""
    return f"Runs at {flow}"


def raster_meaning(meaning: str) -> str:
    """Return a raster's meaning with nodata for NaN, as in the file.

    Examples
    --------
    >>> raster_meaning("Water-surface height; NaN where not wet.")[:36]
    'Water-surface height; no data (-9999'
    """
    shown, _, none = meaning.rstrip(".").partition("; NaN")
    return f"{shown}; {NOT_KNOWN if none.endswith('where unknown') else NO_VALUE}."


def column_meaning(meaning: str) -> str:
    """Return a column's meaning with NULL for NaN, as in the file."""
    return meaning.replace("NaN", "empty")


def datum_words(vertical: str, datum: str) -> str:
    """Return the vertical datum of heights.

    Parameters
    ----------
    vertical
        Source of the datum in the ground stage: "dem", "noted" or "local".
    datum
        Name of the DEM's vertical datum; "" where it has none.
    """
    if vertical == "local":
        return "none: heights count from an arbitrary zero of this reach"
    if vertical == "noted":
        return "that of the water levels in the drawing; nobody named it"
    return datum or "that of the DEM; nobody named it"


def step_words(bounds: Sequence[float], unit: str) -> list[str]:
    """Return the name of each class of colour, from its lower bounds [SI]; the last is open.

    Examples
    --------
    >>> step_words((0.0, 0.3048, 0.6096), "ft")
    ['0 to 1 ft', '1 to 2 ft', 'over 2 ft']
    """
    shown = [figures_text(from_si(one, unit), 2) if unit else figures_text(one) for one in bounds]
    tail = f" {unit}" if unit else ""
    ends = [*shown[1:], ""]
    return [
        f"{low} to {high}{tail}" if high else f"over {low}{tail}"
        for low, high in zip(shown, ends, strict=True)
    ]


def height_words(height: float, unit: str) -> str:
    """Return a height above the datum; nothing where it is not known."""
    return f"{number_text(from_si(height, unit), 1)} {unit}" if math.isfinite(height) else ""
