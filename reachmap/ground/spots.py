"""The water's edge logged at single places, as evidence of bed, bank or level."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import LineString, Point

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.ground.channels import Channel
from reachmap.ground.edges import SAME_FLOW
from reachmap.ground.layout import Layout
from reachmap.ground.line_facts import of_a_rise
from reachmap.ground.settings import GroundSettings
from reachmap.ground.used import Fact, Kind, Why
from reachmap.markup.model import Edge, Level, Markup, Sounding

ALIKE_FLOWS = 1.08
"""Spots whose flows lie within this factor are taken as of one flow (our choice, 1.03-1.15): a
logged place is off by more than the edge moves between them."""

HALF_WIDTHS = 0.25
"""How far up and down the bank a spot holds, in widths (our choice, 0.1-0.5)."""


@dataclass(frozen=True, slots=True)
class Laid:
    """A drawing whose logged edges were put where they count, and what became of each."""

    markup: Markup
    facts: tuple[Fact, ...]


def is_spot(edge: Edge) -> bool:
    """Return whether an edge was seen at a single place."""
    return bool(edge.shape.geom_type == "Point")


def without_spots(markup: Markup) -> Markup:
    """Return a drawing with the edges that are lines or outlines alone."""
    return replace(markup, edges=tuple(edge for edge in markup.edges if not is_spot(edge)))


def lay_spots(
    layout: Layout,
    markup: Markup,
    low: tuple[BoolArray, float],
    seen: FloatArray | None,
    settings: GroundSettings,
) -> Laid:
    """Return the drawing with each logged edge as the evidence it is.

    Within the low water, seen at no more than its flow: a sounding of no depth. Beyond it, at a
    higher flow: on ground that a DEM knows, a level of that flow; without a DEM, a short edge along
    the bank. Anything else contradicts the low water, and is left out.

    Parameters
    ----------
    layout, markup
        The drawing; its edges at single places are the logged ones.
    low
        Cells wet at the lowest water, and its flow [m3/s].
    seen
        The DEM at the cells [m]; None without one.
    settings
        Of the stage.
    """
    spots = [edge for edge in markup.edges if is_spot(edge)]
    if not spots:
        return Laid(markup, ())
    wet, low_flow = low
    flows = alike([spot.flow for spot in spots])
    cells = layout.corridor.at(*(np.array([getattr(s.shape, a) for s in spots]) for a in "xy"))
    edges: list[Edge] = []
    soundings: list[Sounding] = []
    levels: list[Level] = []
    facts: list[Fact] = []
    for spot, flow, cell in zip(spots, flows, cells, strict=True):
        place, higher = Point(spot.shape.coords[0]), flow > low_flow * (1 + SAME_FLOW)
        why = Why.USED
        if cell < 0 or not layout.along[cell]:
            why = Why.OUTSIDE
        elif wet[cell]:
            if higher:
                why = Why.WITHIN_LOWER
            else:
                soundings.append(_waterline(spot, place, settings))
                continue  # judged with the soundings
        elif not higher:
            why = Why.DRY_GROUND
        elif seen is None:
            line = _along_bank(layout.main, place) if layout.owner[cell] == 0 else None
            why = Why.OUTSIDE if line is None else why
            edges += [] if line is None else [Edge(line, flow, spot.date, spot.origin)]
        elif np.isfinite(seen[cell]):
            levels.append(Level(place, float(seen[cell]), flow, spot.origin))
            why = of_a_rise(markup)
        else:
            why = Why.UNSEEN_GROUND
        facts.append(Fact(Kind.EDGE, spot.origin, "", date=spot.date, why=why))
    bare = without_spots(markup)
    laid = replace(
        bare,
        edges=(*bare.edges, *edges),
        soundings=(*bare.soundings, *soundings),
        levels=(*bare.levels, *levels),
    )
    return Laid(laid, tuple(facts))


def alike(flows: Sequence[float]) -> list[float]:
    """Return flows [m3/s] with those within `ALIKE_FLOWS` of one another as their mean.

    The mean of the logarithms; groups begin at the lowest flow.
    """
    order = np.argsort(flows)
    found = np.array(flows, dtype=np.float64)
    first = 0
    for last in range(1, len(order) + 1):
        group = order[first:last]
        if last == len(order) or flows[order[last]] > ALIKE_FLOWS * flows[order[first]]:
            found[group] = np.exp(np.mean(np.log(found[group])))
            first = last
    return [float(flow) for flow in found]


def _waterline(spot: Edge, place: Point, settings: GroundSettings) -> Sounding:
    """Return an edge within the low water as a sounding of no depth."""
    return Sounding(
        "", place, 0.0, spot.flow, math.nan, spot.origin, spot.date, settings.fitting.edge_error_m
    )


def _along_bank(channel: Channel, place: Point) -> LineString | None:
    """Return a short line through a place, as far from the drawn edge all along; None off it."""
    line = channel.line
    station, offset = (
        float(one[0]) for one in line.to_station_offset(np.array([place.x]), np.array([place.y]))
    )
    if not 0 < station < line.length:
        return None
    drawn = channel.left if offset > 0 else channel.right
    half = HALF_WIDTHS * channel.median_width
    at = np.clip(np.linspace(station - half, station + half, 9), 0.0, line.length)
    out = offset - float(np.interp(station, line.station, drawn))
    x, y = line.from_station_offset(at, np.interp(at, line.station, drawn) + out)
    return LineString(np.column_stack([x, y]))
