"""Checks of flows against the gauge's rating, and of the gauge's zero."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from reachmap.base.errors import Fault
from reachmap.base.units import FACTORS
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import Gauge
from reachmap.gauge.stage_flow import rated_range
from reachmap.markup.config import flow_text
from reachmap.markup.drawing import Drawing
from reachmap.markup.places import length_words

SLACK = 0.005
"""Tolerance of flows beyond the rating, as a share, for its rounding (our choice)."""

OTHER_UNIT = 3.0
"""A noted flow beyond the rating by more than this factor suggests a wrong unit (our choice)."""

ZERO_GAP = 40.0
"""Largest difference between a gauge's zero and the river's heights [m] (our choice)."""


def flow_faults(
    flows: Sequence[float], gauge: Gauge | None, units: UnitSystem, *, where: str = "flows"
) -> list[Fault]:
    """Return a fault where flows [m3/s] lie outside the gauge's rating.

    Also used for flows given on the command line.
    """
    ends = rated_range(gauge.segments) if gauge is not None else None
    if ends is None:
        return []
    low, high = ends
    outside = [flow for flow in flows if not low * (1 - SLACK) <= flow <= high * (1 + SLACK)]
    if not outside:
        return []
    named = ", ".join(flow_text(flow, units) for flow in outside)
    found = (
        f"{named} outside the gauge's rating, {flow_text(low, units)} to {flow_text(high, units)}"
    )
    fix = (
        "Ask for flows within it: beyond it nobody has measured"
        f"{_unit_hint(outside, low, high, units)}"
    )
    return [Fault(where, found, fix)]


def flows_rated(drawing: Drawing) -> list[Fault]:
    """Return a fault where flows to map lie outside the gauge's rating."""
    flows = drawing.reach_toml.plan.flows
    return flow_faults(flows, drawing.gauge, drawing.units, where="reach.toml, [flows]")


def flows_of_notes(drawing: Drawing) -> list[Fault]:
    """Return a fault for each noted flow so far outside the rating that its unit must be wrong."""
    ends = rated_range(drawing.gauge.segments) if drawing.gauge is not None else None
    if ends is None:
        return []
    low, high = ends[0] / OTHER_UNIT, ends[1] * OTHER_UNIT
    plan = drawing.reach_toml.plan
    noted = [
        ("reach.toml, [river] traced_flow", plan.traced_flow),
        ("reach.toml, [dem] flow", plan.dem.flow),
    ]
    for layer in ("edges", "soundings", "speeds", "levels"):
        noted += [(one.where, one.values["flow"]) for one in drawing.features[layer]]
    faults = []
    for where, flow in noted:
        if math.isnan(flow) or low <= flow <= high:
            continue
        found = (
            f"flow {flow_text(flow, drawing.units)} is far outside the gauge's rating, "
            f"{flow_text(ends[0], drawing.units)} to {flow_text(ends[1], drawing.units)}"
        )
        hint = _unit_hint([flow], *ends, drawing.units)
        faults.append(Fault(where, found, f"Correct the flow or its unit{hint}"))
    return faults


def zero(drawing: Drawing) -> list[Fault]:
    """Return a fault where the gauge's zero lies far above or below the river."""
    heights, zero_m = drawing.heights, drawing.reach_toml.gauge.zero_m
    if heights is None or math.isnan(zero_m) or not np.isfinite(heights.river).any():
        return []
    low, high = float(np.nanmin(heights.river)), float(np.nanmax(heights.river))
    if low - ZERO_GAP <= zero_m <= high + ZERO_GAP:
        return []
    found = (
        f"the gauge's zero is {length_words(zero_m, drawing.units)}, the river in the DEM runs "
        f"from {length_words(high, drawing.units)} to {length_words(low, drawing.units)}"
    )
    fix = "Give the zero in the DEM's datum and the folder's units, or leave it out"
    return [Fault("reach.toml, [gauge] zero", found, fix)]


def unsaid(drawing: Drawing) -> list[str]:
    """Return notes on properties of the gauge that are given nowhere."""
    gauge = drawing.gauge
    if gauge is None:
        return []
    notes = []
    if not gauge.segments:
        notes.append("The gauge has no rating: levels follow from slope and bed alone.")
    elif math.isnan(gauge.zero_m):
        notes.append(
            "Nobody says the height of the gauge's zero: its stages are not used as heights."
        )
    if not math.isnan(gauge.above_foot_m) and (not gauge.segments or math.isnan(gauge.zero_m)):
        missing = "zero" if gauge.segments else "a rating"
        notes.append(
            f"[gauge] above_foot is said, but without {missing} the gauge tells no level: that at "
            "the lower end is normal depth."
        )
    return notes


def _unit_hint(flows: Sequence[float], low: float, high: float, units: UnitSystem) -> str:
    """Return a hint where all flows would lie within the rating in the other unit."""
    factor = FACTORS["cfs"] if units is UnitSystem.METRIC else 1 / FACTORS["cfs"]
    other = "cfs" if units is UnitSystem.METRIC else "m3/s"
    if all(low <= flow * factor <= high for flow in flows):
        return f"; were they meant in {other}?"
    return ""
