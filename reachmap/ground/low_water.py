"""The lowest water seen: its level along each channel, the cells it wetted, and its flow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter1d

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import BuildError, Fault
from reachmap.ground.channels import Channel
from reachmap.ground.dem import Dem
from reachmap.ground.edges import EdgePair, edge_pairs
from reachmap.ground.fall import falling_level, noted_slope, still_level
from reachmap.ground.layout import Layout
from reachmap.ground.noted_levels import Through, heights_of, through_levels
from reachmap.ground.notes import GroundNote, GroundNoteKind
from reachmap.ground.profiles import falling, smoothed_along
from reachmap.ground.settings import GroundSettings
from reachmap.ground.used import Fact
from reachmap.ground.water_surface import (
    WaterSurface,
    find_water_surface,
    noise_on_water,
    wet_that_day,
)
from reachmap.markup.model import Level, Markup

LOCAL_HEAD_M = 100.0
"""Height given to the water at the head of a reach without a datum [m] (our choice)."""


CORE_SHARE = 0.5
"""Share of the drawn water that lies away from its edges, roughly."""


@dataclass(frozen=True, slots=True)
class LowWater:
    """The lowest water seen.

    Parameters
    ----------
    levels
        At each channel's vertices [m].
    wet
        Cells it wetted.
    flow
        Its discharge [m3/s].
    pairs
        The edges of each channel, flows rising; the first is that of the low water or, where a DEM
        shows a lower one, the lowest drawn.
    how
        "surface": a DEM shows the water; "edges": a DEM's ground at the drawn edges; "drawing".
    vertical
        "dem"; "noted" where heights are those of levels noted at the traced flow; else "local".
    notes
        What was assumed.
    facts
        What became of the noted levels.
    bed_seen
        Whether the angler said that the DEM knows the bed under water, and it shows no water.
    slope
        Of the river where its level lies still [m/m]; NaN where the level tells.
    """

    levels: tuple[FloatArray, ...]
    wet: BoolArray
    flow: float
    pairs: tuple[tuple[EdgePair, ...], ...]
    how: str
    vertical: str
    notes: tuple[GroundNote, ...]
    facts: tuple[Fact, ...] = ()
    bed_seen: bool = False
    slope: float = float("nan")


def level_at_cells(layout: Layout, levels: Sequence[FloatArray]) -> FloatArray:
    """Return the level at every cell, that of its own channel at its station [m]."""
    level = np.zeros(layout.station.shape)
    for number, channel in enumerate(layout.channels):
        mine = layout.owner == number
        level[mine] = np.interp(layout.station[mine], channel.line.station, levels[number])
    return level


def find_low_water(
    layout: Layout, markup: Markup, dem: Dem | None, settings: GroundSettings
) -> LowWater:
    """Return the lowest water: from the DEM where it shows it, else from the drawing.

    Raises
    ------
    BuildError
        If there is neither a DEM, nor a slope, nor two levels to make heights from; or no flow.
    """
    traced, notes = traced_flow(markup)
    pairs = tuple(tuple(edge_pairs(one, markup.edges, traced)) for one in layout.channels)
    if dem is None:
        return _from_drawing(layout, markup, pairs, notes, settings)
    height = dem.height[layout.corridor.row, layout.corridor.col].astype(np.float64)
    within, rules = settings.water_tolerance_m, settings.surface
    surface = find_water_surface(layout.sections[0], height, within, rules)
    if surface is None or markup.plan.dem.below_water:
        low = _from_dem_edges(layout, markup, height, (pairs, notes), settings)
        return replace(low, bed_seen=surface is None and markup.plan.dem.below_water)
    level, fall = still_level(layout.main, surface.level, markup.plan.slope, markup.levels)
    notes += fall.notes
    levels = channel_levels(layout, height, level, settings)
    at_cells = level_at_cells(layout, levels)
    tolerance = noise_on_water(height, at_cells, layout.water, rules.least_noise_m, within)
    wet = wet_that_day(layout.corridor, height, at_cells, layout.water, tolerance) & layout.along
    flow = dem.flow
    if np.isnan(flow):
        flow = lowest_evidence(markup, traced)
        notes.append(GroundNote(GroundNoteKind.DEM_FLOW_ASSUMED, (flow,)))
    return LowWater(
        tuple(levels), wet, flow, pairs, "surface", "dem", tuple(notes), slope=fall.slope
    )


def channel_levels(
    layout: Layout, height: FloatArray, level: FloatArray, settings: GroundSettings
) -> list[FloatArray]:
    """Return a DEM's water level in every channel [m], `level` being that of the main one."""
    levels = [level]
    for sections, channel in zip(layout.sections[1:], layout.channels[1:], strict=True):
        joined = joined_level(channel, layout.main, level)
        seen = find_water_surface(sections, height, settings.water_tolerance_m, settings.surface)
        levels.append(_if_joined(seen, joined, settings.form.join_m))
    return levels


def traced_flow(markup: Markup) -> tuple[float, list[GroundNote]]:
    """Return the flow at which the banks were traced [m3/s] and a note where it is assumed."""
    flow = markup.plan.traced_flow
    if np.isfinite(flow) and flow > 0:
        return flow, []
    if not markup.plan.flows:
        fault = Fault(
            "reach.toml", "no flow is known at all", "Say traced_flow or the flows to map"
        )
        raise BuildError([fault])
    flow = min(markup.plan.flows)
    return flow, [GroundNote(GroundNoteKind.TRACED_FLOW_ASSUMED, (flow,))]


def lowest_evidence(markup: Markup, traced: float) -> float:
    """Return the lowest flow of the traced banks and drawn edges [m3/s]."""
    return min([traced, *(edge.flow for edge in markup.edges if edge.flow > 0)])


def joined_level(side: Channel, main: Channel, level: FloatArray) -> FloatArray:
    """Return the level of a side channel that falls evenly from head to foot."""
    ends = np.array([0, -1])
    station, _ = main.line.to_station_offset(side.line.x[ends], side.line.y[ends])
    head, foot = np.interp(station, main.line.station, level)
    return np.asarray(head + (min(foot, head) - head) * side.line.station / side.line.length)


def _if_joined(seen: WaterSurface | None, joined: FloatArray, join_m: float) -> FloatArray:
    """Return the level a DEM shows in a side channel, if it joins the main water at one end."""
    if seen is None:
        return joined
    off = np.abs(seen.level - joined)
    return seen.level if min(off[0], off[-1]) <= join_m else joined


def _from_dem_edges(
    layout: Layout,
    markup: Markup,
    height: FloatArray,
    known: tuple[tuple[tuple[EdgePair, ...], ...], list[GroundNote]],
    settings: GroundSettings,
) -> LowWater:
    """Return the traced water, its level from the DEM's ground at the traced edges."""
    (pairs, notes), main = known, layout.main
    near = (np.abs(layout.excess) <= 1.5 * layout.corridor.grid.cell) & (layout.owner == 0)
    near &= np.isfinite(height) & layout.along
    if near.sum() < 10:
        fault = Fault(
            "DEM",
            "it knows no ground along the traced edges",
            "Give a DEM that covers the reach, or take it out",
        )
        raise BuildError([fault])
    prior = _low_side(main, layout.station[near], height[near])
    prior, more = falling_level(main, prior, markup.plan.slope, markup.levels)
    notes = [*notes, *more]
    through = _noted(
        main,
        prior,
        markup,
        settings,
        settings.noted.dem_datum_m,
    )
    level = through.level
    levels = [level, *(joined_level(one, main, level) for one in layout.channels[1:])]
    flow = traced_flow(markup)[0]
    wet = layout.water.copy()
    if markup.plan.dem.below_water:
        wet &= np.isnan(height)
        kind = GroundNoteKind.BED_SEEN_AS_SAID
    elif shows_bed(layout, height, level_at_cells(layout, levels), settings.form.bed_seen_m):
        wet &= np.isnan(height)
        kind = GroundNoteKind.BED_SEEN_ASSUMED
    else:
        kind = GroundNoteKind.NO_FLAT_WATER
    told = (*notes, GroundNote(kind))
    return LowWater(tuple(levels), wet, flow, pairs, "edges", "dem", told, through.facts)


def shows_bed(layout: Layout, height: FloatArray, level: FloatArray, seen_m: float) -> bool:
    """Return whether a DEM that shows no flat water has seen the bed beneath it.

    It has if, away from the edges, most of it lies well below the traced water.
    """
    core = layout.water & (layout.excess < -0.15 * layout.main.median_width) & np.isfinite(height)
    if core.sum() < 0.5 * (layout.water & (layout.excess < 0)).sum() * CORE_SHARE:
        return False
    return float(np.median(level[core] - height[core])) > seen_m


def _low_side(main: Channel, station: FloatArray, height: FloatArray) -> FloatArray:
    """Return a falling profile through the lower quarter of heights along the edges [m]."""
    line = main.line
    window = max(main.median_width, 4 * line.step)
    count = max(int(line.length / window), 2)
    bins = np.linspace(0, line.length, count + 1)
    which = np.digitize(station, bins) - 1
    middle, low = [], []
    for number in range(count):
        mine = height[which == number]
        if mine.size >= 3:
            middle.append((bins[number] + bins[number + 1]) / 2)
            low.append(float(np.percentile(mine, 25)))
    calm = np.asarray(np.interp(line.station, middle, low))
    return smoothed_along(falling(calm, np.ones(calm.shape)), window / line.step)


def _from_drawing(
    layout: Layout,
    markup: Markup,
    pairs: tuple[tuple[EdgePair, ...], ...],
    notes: list[GroundNote],
    settings: GroundSettings,
) -> LowWater:
    """Return the lowest drawn water: its fall by the slope, through the levels noted."""
    flow, main = traced_flow(markup)[0], layout.main
    slope, more = drawn_slope(main, markup.levels, markup.plan.slope)
    prior = pooled_level(main, slope, settings)
    through = _noted(main, prior, markup, settings, settings.noted.local_datum_m)
    known = through.notes.at_low
    # Levels of other flows alone bend the fall; a rise only worked out makes no datum.
    level = through.level if known else through.level - through.level[0] + LOCAL_HEAD_M
    levels = [level, *(joined_level(one, main, level) for one in layout.channels[1:])]
    return LowWater(
        tuple(levels),
        layout.water.copy(),
        flow,
        pairs,
        "drawing",
        "noted" if known else "local",
        (*notes, *more),
        through.facts,
    )


def _noted(
    main: Channel, prior: FloatArray, markup: Markup, settings: GroundSettings, datum_m: float
) -> Through:
    """Return a level bent through the levels noted."""
    slope = max(float(prior[0] - prior[-1]) / main.line.length, 1e-5)
    reading = heights_of(
        main, markup.levels, traced_flow(markup)[0], slope, settings.channel_roughness
    )
    return through_levels(main, prior, markup.levels, reading, settings.noted, datum_m)


def drawn_slope(
    main: Channel, levels: Sequence[Level], slope: float
) -> tuple[float, list[GroundNote]]:
    """Return the slope of the water [m/m], given or fitted to noted levels, and a note."""
    if np.isfinite(slope) and slope > 0:
        if levels:
            return slope, [GroundNote(GroundNoteKind.SLOPE_THROUGH_LEVELS, (slope,))]
        return slope, [GroundNote(GroundNoteKind.HEIGHTS_LOCAL, (LOCAL_HEAD_M, slope))]
    fitted = noted_slope(main, levels)
    if fitted > 0:
        return fitted, [GroundNote(GroundNoteKind.SLOPE_OF_LEVELS, (fitted,))]
    fault = Fault(
        "reach.toml",
        "there is neither a DEM nor a slope, so no heights",
        "Say the river's slope or fall, or put a DEM into the reach folder",
    )
    raise BuildError([fault])


def pooled_level(main: Channel, slope: float, settings: GroundSettings) -> FloatArray:
    """Return a low-water profile of the given mean slope, flatter in bends than between them [m].

    Bends hold the pools and the inflections between them the riffles (Keller 1972); how much so is
    `settings.bend_pooling`, a prior and no more.
    """
    line = main.line
    sigma = main.median_width / 2 / line.step
    turn = np.abs(gaussian_filter1d(line.curvatures, sigma, mode="nearest"))
    lag = settings.bend_lag_widths * main.median_width / line.step
    rows = np.arange(len(turn), dtype=np.float64)
    turn = np.interp(rows - lag, rows, turn) * main.median_width
    share = np.clip(turn / settings.form.bend_tight, 0, 1)
    local = (1 - settings.bend_pooling * share) ** 2
    local *= slope / local.mean()
    drop = np.r_[0.0, np.cumsum((local[1:] + local[:-1]) / 2 * np.diff(line.station))]
    return np.asarray(LOCAL_HEAD_M - drop)
