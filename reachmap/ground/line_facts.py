"""Use of drawn edges and noted levels as evidence: which were used, and why others were not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.ground.bed import Bed
from reachmap.ground.edges import SAME_FLOW
from reachmap.ground.layout import Layout
from reachmap.ground.level_evidence import HIGHEST_RISE_M, edge_rises
from reachmap.ground.low_water import LowWater
from reachmap.ground.used import Fact, Kind, Why
from reachmap.markup.model import Level, Markup, Origin

LINES = (Origin.DRAWN, Origin.WALK)
"""Origins of edges that are lines or outlines."""


def line_facts(layout: Layout, markup: Markup, low: LowWater, bed: Bed) -> list[Fact]:
    """Return a fact for each drawn edge and each noted level.

    Logged edges are not among them (`spots.lay_spots` returns theirs), though they may stand in
    the drawing's layers by now.
    """
    return [*_edge_facts(layout, markup, low, bed), *_level_facts(layout, markup, low, bed)]


def of_a_rise(markup: Markup) -> Why:
    """Return what becomes of evidence of how far the water rises: it places depths, if any."""
    depths = any(one.depth_m > 0 for one in markup.soundings)
    return Why.USED if depths else Why.NEEDS_DEPTHS


def _edge_facts(layout: Layout, markup: Markup, low: LowWater, bed: Bed) -> list[Fact]:
    """Return a fact for each drawn edge."""
    drawn = [one for one in markup.edges if one.origin in LINES]
    facts = [
        Fact(
            Kind.EDGE,
            edge.origin,
            str(number) if edge.origin is Origin.DRAWN else "",
            date=edge.date,
        )
        for number, edge in enumerate(drawn, start=1)  # walked ones stand behind the drawn
    ]
    if low.how != "surface":
        return facts
    known = [flow for flow, _, _ in edge_rises(layout, low, bed)]
    risen = of_a_rise(markup)
    return [
        replace(
            fact,
            why=risen
            if any(abs(edge.flow - flow) <= SAME_FLOW * flow for flow in known)
            else Why.DEM_WATER,
        )
        for fact, edge in zip(facts, drawn, strict=True)
    ]


def _level_facts(layout: Layout, markup: Markup, low: LowWater, bed: Bed) -> list[Fact]:
    """Return a fact for each noted level."""
    if low.how != "surface":
        return list(low.facts)
    levels = [one for one in markup.levels if one.origin is Origin.DRAWN]
    facts = [
        _level_fact(one, number, layout, bed.low_flow, bed.levels[0])
        for number, one in enumerate(levels, start=1)
    ]
    risen = of_a_rise(markup)
    return [replace(one, why=risen) if one.why is Why.USED else one for one in facts]


def _level_fact(
    level: Level, number: int, layout: Layout, low_flow: float, low_level: FloatArray
) -> Fact:
    """Return a noted level as a fact where a DEM shows the low water: it counts by its rise."""
    line = layout.main.line
    fact = Fact(Kind.LEVEL, level.origin, str(number))
    station, _ = line.to_station_offset(np.array([level.place.x]), np.array([level.place.y]))
    if not 0 <= station[0] <= line.length:
        return replace(fact, why=Why.OUTSIDE)
    if np.isnan(level.flow) or level.flow <= low_flow * (1 + SAME_FLOW):
        return replace(fact, why=Why.DEM_WATER)
    rise = level.level_m - float(np.interp(station[0], line.station, low_level))
    if 0 < rise < HIGHEST_RISE_M:
        return fact
    return replace(fact, why=Why.RISE_UNLIKE, value=rise)
