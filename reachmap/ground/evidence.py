"""Soundings put to use: made into bed heights, checked, and spread over the bed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.ground.bed import Bed
from reachmap.ground.cover import cover_of_cells
from reachmap.ground.layout import Layout
from reachmap.ground.level_evidence import flow_levels
from reachmap.ground.levels import Levels
from reachmap.ground.line_of_sight import in_sight
from reachmap.ground.low_water import LowWater
from reachmap.ground.outliers import without_outliers
from reachmap.ground.settings import GroundSettings
from reachmap.ground.soundings import Doubt, Places, krige
from reachmap.markup.model import Markup


@dataclass(frozen=True, slots=True)
class Sounded:
    """The bed with the soundings in it.

    Parameters
    ----------
    height
        At the cells [m].
    nearness
        Share of the bed's doubt that soundings take away at each cell, 0 to 1.
    notes
        What was set aside, by name, and what was assumed.
    """

    height: FloatArray
    nearness: FloatArray
    notes: tuple[str, ...]


def reach_levels(
    layout: Layout, markup: Markup, low: LowWater, bed: Bed, settings: GroundSettings
) -> tuple[Levels, list[str]]:
    """Return the levels of the reach by flow over the bed before soundings, and how they came."""
    cover, roughness, _ = cover_of_cells(
        layout.bank, layout.water | bed.under, markup.banks, settings.channel_roughness
    )
    return flow_levels(layout, low, bed, bed.stones.of_cells(roughness, cover), markup)


def use_soundings(
    layout: Layout,
    markup: Markup,
    bed: Bed,
    known: tuple[Levels, list[str]],
    settings: GroundSettings,
    *,
    absolute: bool,
) -> Sounded:
    """Return the bed moved towards the soundings where it is a form.

    Soundings on a DEM's dry ground only check it: there the DEM is the better witness.

    Parameters
    ----------
    layout, markup, bed
        The drawing and the bed before soundings.
    known
        From `reach_levels`.
    settings
        Of the stage.
    absolute
        Whether heights are of a datum.
    """
    nearness = np.zeros(bed.height.shape)
    if not markup.soundings:
        return Sounded(bed.height, nearness, ())
    levels, notes = known
    trusted = "soundings" in markup.plan.accepted
    checked = without_outliers(
        markup.soundings, layout, bed, levels, settings.judging, absolute=absolute, trusted=trusted
    )
    height = bed.height.copy()
    formed = bed.under & np.isfinite(bed.height)  # where the form does not reach, unknown stays
    used = formed[checked.cell]
    for number in range(len(layout.channels)):
        mine = used & (layout.owner[checked.cell] == number)
        if not mine.any():
            continue
        cells = np.flatnonzero((layout.owner == number) & formed)
        at, found = checked.cell[mine], checked.bed[mine]
        doubt = Doubt.of(settings, layout.channels[number].median_width)
        wanted = places(layout, bed, cells)
        kriged = krige(places(layout, bed, at), found - bed.height[at], wanted, doubt)
        height[cells] += kriged.value
        far = settings.sight_widths * layout.channels[number].median_width
        seen = in_sight(layout, bed.under, cells, at, float(far))
        nearness[cells] = np.where(seen, 1 - kriged.variance / doubt.variance(wanted), 0.0)
    highest = bed.low_level - settings.least_depth_m
    height = np.where(bed.under, np.minimum(height, highest), height)
    return Sounded(height, nearness, (*notes, *checked.notes))


def places(layout: Layout, bed: Bed, cells: np.ndarray) -> Places:
    """Return cells as places in their channel's grid, with the form's depth there."""
    depth = np.maximum(bed.low_level - bed.height, 0.0)
    mean = max(float(np.nanmean(depth[bed.under])), 1e-3)
    here = depth[cells]
    return Places(
        layout.station[cells],
        layout.offset[cells],
        here,
        here * (here / mean - 1),
        bed.tilt[cells],
    )
