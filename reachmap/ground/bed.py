"""The bed: every source in its place, by order of trust."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.patches import patch_sizes
from reachmap.base.resistance import Stones
from reachmap.ground.banks import Heights, bank_ground
from reachmap.ground.channels import Channel
from reachmap.ground.edges import EdgePair
from reachmap.ground.form import Form, make_form
from reachmap.ground.layout import Layout
from reachmap.ground.level_rise import shifts_at_edges
from reachmap.ground.low_water import LowWater, level_at_cells
from reachmap.ground.settings import FormSettings, GroundSettings
from reachmap.ground.sources import Source
from reachmap.ground.stones import given_size, mean_depth, stones_under
from reachmap.ground.undrawn_water import flat_ground, undrawn_water
from reachmap.markup.model import Markup


@dataclass(frozen=True, slots=True)
class Bed:
    """The bed before soundings.

    Parameters
    ----------
    height
        At the cells [m]; NaN unknown.
    source
        Codes of `Source` at the cells.
    low_level
        Level of the lowest water at the cells [m].
    tilt
        What leaning outwards in bends adds to the form's depth at the cells [m]; 0 off the form.
    under
        Cells whose bed is a form: under the lowest water seen.
    levels
        The same at the channels' vertices [m].
    low_flow
        Its discharge [m3/s].
    forms
        Of each channel.
    stones
        Of the bed; none where none were given.
    """

    height: FloatArray
    source: np.ndarray
    low_level: FloatArray
    tilt: FloatArray
    under: BoolArray
    levels: tuple[FloatArray, ...]
    low_flow: float
    forms: tuple[Form, ...]
    stones: Stones

    @property
    def from_dem(self) -> BoolArray:
        """Return which cells are a DEM's dry ground."""
        return np.asarray(self.source == Source.DEM)


def make_bed(
    layout: Layout, markup: Markup, low: LowWater, seen: FloatArray | None, settings: GroundSettings
) -> Bed:
    """Return the bed from DEM, drawn banks and edges, and the form beneath the lowest water.

    Parameters
    ----------
    layout, markup
        The drawing.
    low
        The lowest water.
    seen
        The DEM at the cells [m], NaN where it does not know; None without a DEM.
    settings
        Of the stage.
    """
    from_dem = seen is not None and low.how == "surface"
    base = [pairs[0] for pairs in low.pairs]
    wet = low.wet if seen is not None else _between_lowest(layout, base) & low.wet
    flow = low.flow if from_dem else base[0].flow
    forms, stones = _forms(layout, low, wet, flow, settings, Stones()), Stones()
    if size := given_size(markup.plan, settings.stones):
        # Manning's n is given for the water that closes the form: its mean depth, by one n.
        mean = mean_depth(layout, forms, level_at_cells(layout, low.levels), seen)
        stones = stones_under(size, mean, settings.stones)
        forms = _forms(layout, low, wet, flow, settings, stones)
    heights = _heights(layout, low, (forms, stones), settings, wet)
    bed = bank_ground(layout, markup.banks, low.pairs, heights)
    source = _source_of_banks(layout, bed, low)
    bed = _carve_swales(layout, bed, heights.cells, settings.form.swale_share)
    levels = _lowest_levels(low, heights)
    low_level = level_at_cells(layout, levels)
    tilt = np.zeros(bed.shape)
    for number, (sections, form) in enumerate(zip(layout.sections, forms, strict=True)):
        mine = wet & (layout.owner == number)
        station, offset = layout.station[mine], layout.offset[mine]
        depth = sections.to_cells(form.depth, station, offset)
        tilt[mine] = np.nan_to_num(sections.to_cells(form.tilt, station, offset))
        bed[mine] = low_level[mine] - np.maximum(depth, settings.least_depth_m)  # NaN stays NaN
    source[wet] = Source.FORM_SURFACE if from_dem else Source.FORM_DRAWN
    if seen is not None:
        # Last, so that ground that was seen overrules what was drawn or formed.
        dry = np.isfinite(seen) & ~wet
        bed[dry], source[dry] = seen[dry], Source.DEM
        fall = max(float(low.levels[0][0] - low.levels[0][-1]) / layout.main.line.length, 0.0)
        if from_dem:
            flat = undrawn_water(layout.corridor, seen, low_level, wet, fall, settings)
            source[flat] = Source.UNDRAWN
        elif low.bed_seen:
            said = layout.water & dry
            flat = flat_ground(layout.corridor, seen, low_level, said, fall, settings)
            source[flat] = Source.UNDRAWN
    bed[~layout.along] = np.nan
    source[np.isnan(bed)] = Source.NONE
    return Bed(bed, source, low_level, tilt, wet, levels, flow, forms, stones)


def _forms(
    layout: Layout,
    low: LowWater,
    wet: BoolArray,
    flow: float,
    settings: GroundSettings,
    stones: Stones,
) -> tuple[Form, ...]:
    """Return the form of each channel that carries its share of a flow [m3/s] at low water."""
    shaped = without_specks(layout, wet, settings.form.speck_widths)
    return tuple(
        make_form(
            sections,
            sections.sample(shaped, 0) > 0,
            low.levels[number],
            part * flow,
            settings,
            stones,
        )
        for number, (sections, part) in enumerate(
            zip(layout.sections, shares(layout, wet, settings.form), strict=True)
        )
    )


def without_specks(layout: Layout, wet: BoolArray, speck_widths: float) -> BoolArray:
    """Return wet cells with small dry specks in them filled: a boulder parts no section."""
    corridor = layout.corridor
    size = patch_sizes(corridor.spread(~wet, 0)) * corridor.grid.cell**2
    most = (speck_widths * layout.main.median_width) ** 2
    return np.asarray(wet | (size[corridor.row, corridor.col] < most))


def shares(layout: Layout, wet: BoolArray, settings: FormSettings) -> list[FloatArray]:
    """Return the share of the river's flow each channel carries, by row.

    Where a side channel holds water beside the main one, each takes its part by
    `side_width_power` of its wet width; the main channel has the rest.
    """
    widths = [
        (sections.sample(wet, 0) > 0).sum(axis=1) * sections.spacing for sections in layout.sections
    ]
    main = layout.main
    rest = np.ones(len(main.line.station))
    parts = [rest]
    for channel, width in zip(layout.channels[1:], widths[1:], strict=True):
        usual = float(np.median(width))
        ends = np.array([0, -1])
        station, _ = main.line.to_station_offset(channel.line.x[ends], channel.line.y[ends])
        abreast = (main.line.station >= station.min()) & (main.line.station <= station.max())
        other = float(np.median(widths[0][abreast])) if abreast.any() else main.median_width
        mine, others = usual**settings.side_width_power, other**settings.side_width_power
        part = mine / max(mine + others, 1e-9)
        rest[abreast] -= part
        parts.append(np.full(len(channel.line.station), max(part, 1e-6)))
    np.maximum(rest, 0.05, out=rest)
    return parts


def _between_lowest(layout: Layout, base: list[EdgePair]) -> BoolArray:
    """Return which cells lie between the lowest drawn edges; where unseen, the traced ones."""
    inside = np.zeros(layout.station.shape, dtype=bool)
    for number, (channel, pair) in enumerate(zip(layout.channels, base, strict=True)):
        mine = layout.owner == number
        left = np.where(np.isfinite(pair.left), pair.left, channel.left)
        right = np.where(np.isfinite(pair.right), pair.right, channel.right)
        station, offset = layout.station[mine], layout.offset[mine]
        out = np.maximum(
            offset - np.interp(station, channel.line.station, left),
            np.interp(station, channel.line.station, right) - offset,
        )
        # Half a cell's diagonal is 0.71 cells: a cell the edge only touches still counts.
        inside[mine] = out <= 0.75 * layout.corridor.grid.cell
    return inside


def _heights(
    layout: Layout,
    low: LowWater,
    made: tuple[tuple[Form, ...], Stones],
    settings: GroundSettings,
    wet: BoolArray,
) -> Heights:
    """Return the water's height at every pair of edges and at the traced one."""
    traced: list[FloatArray] = []
    at_pairs: list[list[FloatArray]] = []
    parts = shares(layout, wet, settings.form)
    for number, sections in enumerate(layout.sections):
        pairs, form = low.pairs[number], made[0][number]
        resistance = (settings.channel_roughness, made[1])
        shift = shifts_at_edges(sections, form.depth, form.slope, pairs, parts[number], resistance)
        own = next(i for i, pair in enumerate(pairs) if pair.left is layout.channels[number].left)
        # Levels count from the surveyed surface or, where there is none, from the traced edge
        # itself.
        datum = 0.0 if low.how == "surface" else shift[own]
        levels = [low.levels[number] + one - datum for one in shift]
        at_pairs.append(levels)
        traced.append(levels[own])
    return Heights(traced, at_pairs, level_at_cells(layout, traced))


def _lowest_levels(low: LowWater, heights: Heights) -> tuple[FloatArray, ...]:
    """Return the level of the lowest water of each channel [m]."""
    if low.how == "surface":
        return low.levels
    return tuple(levels[0] for levels in heights.at_pairs)


def _source_of_banks(layout: Layout, bed: FloatArray, low: LowWater) -> np.ndarray:
    """Return where drawn ground comes from: edges within the outermost one, rises beyond it."""
    source = np.where(np.isfinite(bed), Source.RISE, Source.NONE).astype(np.int8)
    source[np.isfinite(bed) & layout.island] = Source.ISLAND
    for number, pairs in enumerate(low.pairs):
        if len(pairs) < 2:
            continue
        channel = layout.channels[number]
        outer = np.zeros(len(channel.line.station))
        for pair in pairs:
            outer = np.fmax(outer, np.fmin(pair.left - channel.left, channel.right - pair.right))
        mine = (layout.owner == number) & np.isfinite(bed) & ~layout.island
        limit = np.interp(layout.station, channel.line.station, outer)
        source[mine & (layout.excess <= limit)] = Source.EDGES
    return source


def _carve_swales(layout: Layout, bed: FloatArray, level: FloatArray, share: float) -> FloatArray:
    """Return the ground with side channels carved that were drawn across dry, unlevelled ground."""
    carved = bed.copy()
    for swale in layout.swales:
        carved = _carved(swale, layout, carved, level, share)
    return carved


def _carved(
    swale: Channel, layout: Layout, bed: FloatArray, level: FloatArray, share: float
) -> FloatArray:
    """Return the ground with one swale carved by a share of the way down to the traced water."""
    station, offset = swale.line.to_station_offset(layout.corridor.x, layout.corridor.y)
    half = np.interp(station, swale.line.station, swale.left)
    here = (np.abs(offset) < half) & (station >= 0) & (station <= swale.line.length)
    here &= np.isfinite(bed) & ~layout.water
    high = np.maximum(bed - level, 0)
    # A parabola across: all of the cut on the line, none at the edges.
    return np.where(here, bed - share * high * (1 - (offset / half) ** 2), bed)
