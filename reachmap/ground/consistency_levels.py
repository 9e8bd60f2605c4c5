"""Consistency of levels at several flows: DEM at drawn edges, Manning's formula, the rating."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.ground.consistency_scene import Scene
from reachmap.ground.edges import SAME_FLOW, drawn_pairs
from reachmap.ground.level_evidence import (
    FEWEST,
    edge_rises,
    near_edge,
    noted_rises,
    rating_points,
)
from reachmap.ground.levels import profile
from reachmap.ground.low_water import LowWater, traced_flow
from reachmap.markup.evidence import Finding, Weight

FLOW_SPAN = (1 / 3, 40.0)
"""Flows tried, as shares of the low water's (our choice)."""

TRIED = 25
"""Number of flows tried (numerical resolution)."""

FALL_POWER = 1.3
"""Rises over computed ones grow with the unit's ratio to this power: 1 + 0.3, since Manning's depth
goes with slope to the power -0.3."""

DEM_FIX = "Most likely the DEM's heights are in {unit}: set height_unit under [dem]"


@dataclass(frozen=True, slots=True)
class Rise:
    """How far the water stands above the lowest one at a flow.

    Parameters
    ----------
    what
        What it was read from.
    flow
        [m3/s].
    seen
        Median rise [m].
    computed
        Median rise by the sections' own conveyance, at the same places [m].
    rated
        Rise of the stage at the gauge [m]; NaN without a rating that covers both flows.
    implied
        Flow at which the computed rise is the seen one [m3/s].
    """

    what: str
    flow: float
    seen: float
    computed: float
    rated: float
    implied: float


def level_findings(scene: Scene) -> list[Finding]:
    """Return where levels contradict their order, the rating, Manning's formula or the unit.

    Without a DEM there is no second source of heights: noted levels are judged by each other.
    """
    if scene.low.vertical != "dem":
        return []
    rises = rises_of(scene)
    unit = wrong_unit(scene, rises)
    if unit or scene.low.how != "surface":
        return unit  # without the DEM's water, rises from the traced edge are good for units only
    flows = against_manning(scene, rises)
    return [*out_of_order(scene, rises), *(flows or against_rating(scene, rises))]


def rises_of(scene: Scene) -> list[Rise]:
    """Return the rises known from the DEM's ground at drawn edges, and from noted levels."""
    bed, layout = scene.bed, scene.layout
    traced = traced_flow(scene.markup)[0]
    low = as_drawn(scene)
    known = [
        ("the traced edge" if flow == traced else "the edge drawn", flow, station, rise)
        for flow, station, rise in all_edge_rises(scene, low)
    ]
    known += [
        ("the noted level", flow, station, rise)
        for flow, station, rise in noted_rises(layout, low, bed, scene.markup.levels)
    ]
    if not known:
        return []
    tables = scene.levels.tables
    flows = bed.low_flow * np.geomspace(*FLOW_SPAN, TRIED)
    base = profile(tables, bed.low_flow)
    raised = np.array([profile(tables, flow) - base for flow in flows])
    found = []
    for what, flow, station, rise in known:
        here = np.median([np.interp(station, tables.station, one) for one in raised], axis=1)
        here = np.maximum.accumulate(here)
        seen = float(np.median(rise))
        computed = float(np.interp(np.log(flow), np.log(flows), here))
        implied = float(np.exp(np.interp(seen, here, np.log(flows))))
        found.append(Rise(what, flow, seen, computed, _rated(scene, flow), implied))
    return sorted(found, key=lambda one: one.flow)


def as_drawn(scene: Scene) -> LowWater:
    """Return the low water with the main channel's edges as drawn, not held by each other."""
    traced = traced_flow(scene.markup)[0]
    pairs = tuple(drawn_pairs(scene.layout.main, scene.markup.edges, traced))
    return replace(scene.low, pairs=(pairs, *scene.low.pairs[1:]))


def all_edge_rises(scene: Scene, low: LowWater) -> list[tuple[float, FloatArray, FloatArray]]:
    """Return (flow, stations, rise) [m3/s, m, m] of every drawn edge on a DEM.

    Edges that stand apart from the DEM's water by the dry ground beneath them; those beside it, and
    every edge where the DEM shows no water, by all ground beneath them, water counting as no rise.
    """
    bed, layout = scene.bed, scene.layout
    apart = edge_rises(layout, low, bed)
    if low.vertical != "dem" or scene.seen is None:
        return apart
    near_water = []
    for pair in low.pairs[0]:
        same = [abs(flow - pair.flow) <= SAME_FLOW * flow for flow, *_ in apart]
        if any(same) or abs(pair.flow - bed.low_flow) <= SAME_FLOW * bed.low_flow:
            continue
        near = near_edge(layout, pair) & np.isfinite(scene.seen) & layout.along
        if near.sum() >= FEWEST:
            rise = np.maximum(scene.seen[near] - bed.low_level[near], 0.0)
            near_water.append((pair.flow, layout.main_station[near], rise))
    return [*apart, *near_water]


def _rated(scene: Scene, flow: float) -> float:
    """Return how far the stage rises at the gauge from the low water to a flow [m]; NaN unknown."""
    gauge = scene.markup.gauge
    if gauge is None:
        return float("nan")
    stage, flows = rating_points(gauge.segments)
    low = scene.bed.low_flow
    if stage.size < 2 or not (flows[0] <= min(low, flow) and max(low, flow) <= flows[-1]):
        return float("nan")
    return float(np.diff(np.interp(np.log([low, flow]), np.log(flows), stage))[0])


def out_of_order(scene: Scene, rises: Sequence[Rise]) -> list[Finding]:
    """Return a finding for each higher flow whose water would stand lower than a lower one's."""
    findings = []
    for low, high in pairwise(rises):
        if high.flow <= low.flow or high.seen >= low.seen - scene.settings.level_error_m:
            continue
        found = (
            f"{low.what} at {scene.flow(low.flow)} stands {scene.length(low.seen)} above the "
            f"lowest water, {high.what} at {scene.flow(high.flow)} only {scene.length(high.seen)}"
        )
        fix = "The higher flow stands higher: correct the flow, the edge or the level"
        findings.append(Finding("edges", Weight.WARNING, Fault("edges", found, fix)))
    return findings


def wrong_unit(scene: Scene, rises: Sequence[Rise]) -> list[Finding]:
    """Return a finding where the DEM's heights seem to be feet for metres, or metres for feet.

    Every rise must be off by about a foot's ratio: against the gauge's rating, which stops a build
    where it is so at two flows or more, or, at two flows or more, against Manning's formula.
    """
    rated = [one for one in rises if _comparable(scene, one.seen, one.rated)]
    unit = _common_slip(scene, [one.seen / one.rated for one in rated])
    if unit:
        one = rated[-1]
        found = (
            f"{_rise_words(scene, one)}, {scene.length(one.rated)} at the gauge: "
            f"{one.seen / one.rated:.2g} times"
        )
        weight = Weight.STOP if len(rated) > 1 else Weight.WARNING
        fix = f"{DEM_FIX.format(unit=unit)}; else correct the rating's unit"
        return [Finding("dem", weight, Fault("DEM", found, fix))]
    return _unit_by_manning(scene, rises)


def _unit_by_manning(scene: Scene, rises: Sequence[Rise]) -> list[Finding]:
    """Return a finding where every rise is off by about a foot's ratio against Manning's formula.

    A fall times k makes computed depths k^-0.3 times theirs, so that rises come out up to k^1.3
    times the computed ones.
    """
    settings = scene.settings
    known = [one for one in rises if _comparable(scene, one.seen, one.computed)]
    ratios = [one.seen / one.computed for one in known]
    unit = _common_slip(scene, ratios) or _common_slip(
        scene, [ratio ** (1 / FALL_POWER) for ratio in ratios]
    )
    if not unit or len(known) < 2:
        return []
    one = known[-1]
    found = (
        f"{_rise_words(scene, one)}, where {scene.length(one.computed)} carry that flow "
        f"({len(known)} levels are off like this)"
    )
    alike = max(ratios) <= settings.unit_band**2 * min(ratios)
    fix = f"{DEM_FIX.format(unit=unit)}; else correct [dem] flow"
    weight = Weight.STOP if alike else Weight.WARNING
    return [Finding("dem", weight, Fault("DEM", found, fix))]


def against_rating(scene: Scene, rises: Sequence[Rise]) -> list[Finding]:
    """Return a finding where the water rises otherwise along the reach than at the gauge."""
    settings = scene.settings
    known = [one for one in rises if _comparable(scene, one.seen, one.rated)]
    if not known:
        return []
    ratio = float(np.median([one.seen / one.rated for one in known]))
    if 1 / settings.rating_factor <= ratio <= settings.rating_factor:
        return []
    one = known[-1]
    found = (
        f"{_rise_words(scene, one)}, {scene.length(one.rated)} at the gauge: "
        f"{one.seen / one.rated:.2g} times"
    )
    fix = "Correct the flows of the edges, traced_flow, [dem] flow, or the gauge's rating"
    return [Finding("rating", Weight.WARNING, Fault("gauge", found, fix))]


def against_manning(scene: Scene, rises: Sequence[Rise]) -> list[Finding]:
    """Return a finding for each flow that its level contradicts by Manning's formula."""
    return [_flow_finding(scene, one) for one in rises if _off(scene, one)]


def _comparable(scene: Scene, seen: float, other: float) -> bool:
    """Return whether two rises are both known, positive, and one of them great enough to judge."""
    return seen > 0 and other > 0 and max(seen, other) >= 2 * scene.settings.level_error_m


def _common_slip(scene: Scene, ratios: Sequence[float]) -> str:
    """Return the unit slip common to all ratios, "" where there is none or they differ."""
    units = {scene.settings.unit_slip(ratio) for ratio in ratios}
    return units.pop() if len(units) == 1 else ""


def _rise_words(scene: Scene, one: Rise) -> str:
    """Return how far the water rises along the reach, in words."""
    return (
        f"from {scene.flow(scene.bed.low_flow)} to {scene.flow(one.flow)} the water rises "
        f"{scene.length(one.seen)} along the reach ({one.what})"
    )


def _off(scene: Scene, one: Rise) -> bool:
    """Return whether a level belongs to quite another flow."""
    factor = max(one.implied / one.flow, one.flow / one.implied)
    near = abs(one.seen - one.computed) < scene.settings.flow_level_m
    return factor >= scene.settings.flow_factor and not near


def _flow_finding(scene: Scene, one: Rise) -> Finding:
    """Return what is reported of a level at the wrong flow."""
    found = (
        f"{one.what} at {scene.flow(one.flow)} stands {scene.length(one.seen)} above the lowest "
        f"water ({scene.flow(scene.bed.low_flow)}), where that flow would stand "
        f"{scene.length(one.computed)}: it is the level of about {scene.about(one.implied)}"
    )
    if one.what == "the traced edge":
        where, topic = "reach.toml, [river] traced_flow", "traced_flow"
        fix = "Correct traced_flow, or [dem] flow"
    else:
        where, topic = "edges" if one.what == "the edge drawn" else "levels", "edges"
        fix = "Correct that flow, or [dem] flow"
    return Finding(topic, Weight.WARNING, Fault(where, found, fix))
