"""Water levels known at flows above the lowest, and the levels made from them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.model import Gauge, RatingSegment
from reachmap.ground.bed import Bed
from reachmap.ground.edges import SAME_FLOW, EdgePair
from reachmap.ground.layout import Layout
from reachmap.ground.levels import Levels, tabled
from reachmap.ground.low_water import LowWater
from reachmap.ground.notes import GroundNote, GroundNoteKind
from reachmap.markup.model import BY_PHONE, Level, Markup, Origin

NEAR_EDGE_CELLS = 0.75
"""A cell nearer than this to a drawn edge gives its height (our choice)."""

APART_CELLS = 1.5
"""An edge must mostly stand further than this from the DEM's water (our choice)."""

HIGHEST_RISE_M = 6.0
"""A noted level further above the low water is of another datum [m] (our choice)."""

FEWEST = 12
"""Fewest cells along an edge that make a level (our choice)."""


def flow_levels(
    layout: Layout,
    low: LowWater,
    bed: Bed,
    resistance: tuple[FloatArray, FloatArray | None],
    markup: Markup,
) -> tuple[Levels, list[GroundNote]]:
    """Return the levels of the reach by flow, and how they were come by.

    In order of trust: noted levels; drawn edges on a DEM's dry ground, whose height is the level at
    their flow; the rise at a gauge by its rating; else the profile as computed.

    Parameters
    ----------
    layout, low, bed
        The drawing, its lowest water and the bed before soundings.
    resistance
        Manning's n of deep water at the cells [s/m^(1/3)] and the term of their stones.
    markup
        The drawing, for noted levels and the gauge's rating.
    """
    main = layout.main
    tables = tabled(
        layout.main_station,
        bed.height,
        resistance[0],
        layout.along,
        (main.line.station, bed.levels[0]),
        (layout.corridor.grid.cell, main.median_width),
        resistance[1],
    )
    levels = Levels(tables, bed.low_flow)
    noted = noted_rises(layout, low, bed, markup.levels)
    flows_noted = [flow for flow, _, _ in noted]
    seen = [one for one in edge_rises(layout, low, bed) if one[0] not in flows_noted]
    logged = spot_rises(layout, low, bed, markup.levels)
    if noted or seen or logged:
        kinds = (
            (GroundNoteKind.LEVELS_NOTED, noted),
            (GroundNoteKind.LEVELS_OF_EDGES, seen),
            (GroundNoteKind.LEVELS_OF_LOGGED_EDGES, logged),
        )
        return levels.anchored([*noted, *seen], logged), [
            GroundNote(kind, tuple(one[0] for one in known)) for kind, known in kinds if known
        ]
    gauge = markup.gauge
    rated = rating_rises(gauge, bed.low_flow, tables.station) if gauge is not None else []
    if rated:
        return levels.anchored(rated), [GroundNote(GroundNoteKind.RISE_BY_RATING)]
    return levels, [GroundNote(GroundNoteKind.RISE_BY_SECTIONS)]


def noted_rises(
    layout: Layout, low: LowWater, bed: Bed, levels: Sequence[Level]
) -> list[tuple[float, FloatArray, FloatArray]]:
    """Return (flow, stations, rise) of noted levels, by flow, that can be of the ground's datum."""
    if low.vertical == "local":
        return []
    line = layout.main.line
    found: dict[float, list[tuple[float, float]]] = {}
    for one in levels:
        if one.origin in BY_PHONE:
            continue  # a logged edge on a DEM: `spot_rises`
        if not (np.isfinite(one.flow) and one.flow > bed.low_flow * (1 + SAME_FLOW)):
            continue
        station, _ = line.to_station_offset(np.array([one.place.x]), np.array([one.place.y]))
        rise = one.level_m - float(np.interp(station[0], line.station, bed.levels[0]))
        if 0 < rise < HIGHEST_RISE_M:
            found.setdefault(one.flow, []).append((float(station[0]), rise))
    return [(flow, *np.array(pairs).T) for flow, pairs in sorted(found.items())]


def spot_rises(
    layout: Layout, low: LowWater, bed: Bed, levels: Sequence[Level]
) -> list[tuple[float, FloatArray, FloatArray]]:
    """Return (flow, stations, rise) of edges logged on a DEM's dry ground, by flow."""
    logged = [replace(one, origin=Origin.DRAWN) for one in levels if one.origin in BY_PHONE]
    return noted_rises(layout, low, bed, logged)


def edge_rises(
    layout: Layout, low: LowWater, bed: Bed
) -> list[tuple[float, FloatArray, FloatArray]]:
    """Return (flow, stations, rise) of each drawn edge whose ground a DEM knows.

    An edge that mostly runs beside the water of the DEM's day is left out: only its higher side
    would be seen.
    """
    if low.how != "surface":
        return []
    known = []
    from_water = _distance_to(layout, bed.under)
    for pair in low.pairs[0]:
        if pair.flow <= bed.low_flow * (1 + SAME_FLOW):
            continue
        near = near_edge(layout, pair)
        if not near.any() or np.median(from_water[near]) < APART_CELLS * layout.corridor.grid.cell:
            continue
        near &= bed.from_dem
        if near.sum() < FEWEST:
            continue
        rise = bed.height[near] - bed.low_level[near]
        known.append((pair.flow, layout.main_station[near], rise))
    return known


def near_edge(layout: Layout, pair: EdgePair) -> BoolArray:
    """Return which cells of the main channel lie on one of a pair's edges."""
    station = layout.main.line.station
    left = np.interp(layout.station, station, _whole(pair.left))
    right = np.interp(layout.station, station, _whole(pair.right))
    off = np.fmin(np.abs(layout.offset - left), np.abs(layout.offset - right))
    return np.asarray((layout.owner == 0) & (off <= NEAR_EDGE_CELLS * layout.corridor.grid.cell))


def _distance_to(layout: Layout, mask: BoolArray) -> FloatArray:
    """Return how far each cell is from the nearest cell of a mask [m]; inf where that is far.

    Looked at up to twice `APART_CELLS`, so that the mean of two of which one is inf is far too.
    """
    corridor = layout.corridor
    raster = corridor.spread(mask, 0).astype(bool)
    if not raster.any():
        return np.full(corridor.row.shape, np.inf)
    away: FloatArray = distance_transform_edt(~raster)[corridor.row, corridor.col]
    away[away > math.ceil(2 * APART_CELLS)] = np.inf
    return np.asarray(away * corridor.grid.cell)


def _whole(offset: FloatArray) -> FloatArray:
    """Return offsets with unseen stretches put out of reach."""
    return np.where(np.isfinite(offset), offset, 1e9)


def rating_rises(
    gauge: Gauge, low_flow: float, station: FloatArray
) -> list[tuple[float, FloatArray, FloatArray]]:
    """Return (flow, stations, rise) from a gauge's rating, above the stage of the low water."""
    stage, flow = rating_points(gauge.segments)
    if stage.size < 2 or not flow[0] <= low_flow <= flow[-1]:
        return []
    base = float(np.interp(np.log(low_flow), np.log(flow), stage))
    higher = flow > 1.2 * low_flow
    if not higher.any():
        return []
    picked = np.unique(np.linspace(0, higher.sum() - 1, 5).astype(int))
    return [
        (float(flow[higher][i]), station, np.full(station.shape, stage[higher][i] - base))
        for i in picked
    ]


def rating_points(segments: Sequence[RatingSegment]) -> tuple[FloatArray, FloatArray]:
    """Return a rating's points, stage [m] and flow [m3/s], rising, flows above 0."""
    if not segments:
        return np.empty(0), np.empty(0)
    stage = np.concatenate([one.stage_m for one in segments])
    flow = np.concatenate([one.flow for one in segments])
    order = np.argsort(stage)
    stage, flow = stage[order], flow[order]
    good = (flow > 0) & np.isfinite(flow) & np.isfinite(stage)
    stage, flow = stage[good], flow[good]
    rising = np.r_[True, np.diff(flow) > 0]
    return stage[rising], flow[rising]
