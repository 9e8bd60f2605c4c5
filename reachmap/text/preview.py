"""Sentences on the preview beside the drawing: what it shows, what changed, what is asked for."""

from __future__ import annotations

from reachmap.base.units import DISTANCE, FACTORS, flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import distance_words, list_words, span_words

TAG = "Preview"
SHORT = "Worked out from what is drawn so far; it says nothing on wading."
CAUTION = (
    "A preview: one-dimensional, from what is drawn so far. Levels may be off and soft water is "
    "only roughly placed. It does not say that any water can be waded. People drown wading."
)
HOLDS = "Soft water has the depth and speed of the season, mean speed over the depth."
UNKNOWN = "Bricked ground and water are not known: treat them as deep and fast."
COVER_TAKEN = "Banks without a cover yet count as grass here."

BEFORE = "What is still wanted before a preview can be made:"


def water_lines(
    flow: float, width_m: float, areas: tuple[float, float, float], units: UnitSystem
) -> list[str]:
    """Return what the preview shows at a flow.

    Parameters
    ----------
    flow
        [m3/s].
    width_m
        Mean width of the water [m].
    areas
        Of the water, of the soft water and of drawn bank that is not known [m2].
    units
        Units shown.
    """
    wet, soft, unknown = areas
    share = 0.0 if wet <= 0 else 100 * soft / wet
    lines = [
        f"At {flow_words(flow, units)} the water is {distance_words(width_m, units)} wide on "
        f"average; {share:.0f} % of it is soft."
    ]
    if unknown > 0:
        lines.append(UNKNOWN)
    return [*lines, HOLDS]


def change_line(
    before: tuple[float, float, float], after: tuple[float, float, float], units: UnitSystem
) -> str:
    """Return what the last change of the drawing did to the preview.

    Parameters
    ----------
    before, after
        Mean width of the water [m], its soft share (0 to 1) and the area of bank not known [m2].
    units
        Units shown.
    """
    told = [
        ("width", [distance_words(one[0], units) for one in (before, after)]),
        ("soft", [f"{100 * one[1]:.0f} %" for one in (before, after)]),
        ("bank not known", [area_words(one[2], units) for one in (before, after)]),
    ]
    moved = [f"{name} {was} to {now}" for name, (was, now) in told if was != now]
    same = [name for name, (was, now) in told if was == now]
    if not moved:
        return (
            "Your last change moved none of these figures. The dashed line is the edge before it."
        )
    kept = f"; {list_words(same)} as before" if same else ""
    return f"Your last change: {', '.join(moved)}{kept}. The dashed line is the edge before it."


def area_words(area_m2: float, units: UnitSystem) -> str:
    """Return an area like ``5,300 yd²``."""
    unit = DISTANCE[units]
    return f"{area_m2 / FACTORS[unit] ** 2:,.0f} {unit}²"


def rise_question(name: str, side: str, limits: tuple[float, float], units: UnitSystem) -> str:
    """Return the question for the rise of a bank; `limits` are those it was tried with [m]."""
    called = f"the bank “{name}”" if name else f"the bank on river {side}"
    return (
        f"How high does the outer edge of {called} stand above the water you traced? It may be "
        f"anything now, tried from {span_words(*limits, units)}; no other number changes as much."
    )


def level_question() -> str:
    """Return the question for the fall of the water."""
    return (
        "How far does the water fall over your line? This now changes more than any other number: "
        "type the fall from a contour map on the page River, or measure the water's height at two "
        "places and put both in as levels."
    )


def sounding_question(flow: float, units: UnitSystem) -> str:
    """Return the question for a sounding; the place is shown on the map."""
    return (
        f"How deep is it at the ring on the map? One depth there, with the day's flow (like "
        f"{flow_words(flow, units)}), changes more than any other number. Measure it only where "
        "and when you can do so from safety: from a boat at anchor, or with a pole from the bank."
    )
