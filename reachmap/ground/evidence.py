"""Soundings put to use: made into bed heights, checked, and spread over the bed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.ground.bed import Bed
from reachmap.ground.cover import cover_of_cells
from reachmap.ground.form_error import misfit_of, thinned
from reachmap.ground.layout import Layout
from reachmap.ground.level_evidence import flow_levels
from reachmap.ground.levels import Levels
from reachmap.ground.line_of_sight import in_sight
from reachmap.ground.low_water import LowWater
from reachmap.ground.neighbourhood import krige_near
from reachmap.ground.notes import GroundNote
from reachmap.ground.outliers import without_outliers
from reachmap.ground.settings import GroundSettings
from reachmap.ground.soundings import Doubt, Noise, Places
from reachmap.ground.used import Fact, Why
from reachmap.markup.model import BY_PHONE, Markup, Sounding


@dataclass(frozen=True, slots=True)
class Sounded:
    """The bed with the soundings in it.

    Parameters
    ----------
    height
        At the cells [m].
    nearness
        Share of the variance of the bed's error that soundings remove at each cell, 0 to 1.
    notes
        What was assumed.
    facts
        What became of each sounding.
    misfit, number
        Misfit of the soundings to the form (`form_error.misfit_of`), and how many they were.
    """

    height: FloatArray
    nearness: FloatArray
    notes: tuple[GroundNote, ...] = ()
    facts: tuple[Fact, ...] = ()
    misfit: float = 0.0
    number: int = 0


def reach_levels(
    layout: Layout, markup: Markup, low: LowWater, bed: Bed, settings: GroundSettings
) -> tuple[Levels, list[GroundNote]]:
    """Return the levels of the reach by flow over the bed before soundings, and how they came."""
    cover, roughness, _ = cover_of_cells(
        layout.bank, layout.water | bed.under, markup.banks, settings.channel_roughness
    )
    return flow_levels(layout, low, bed, bed.stones.of_cells(roughness, cover), markup)


def use_soundings(
    layout: Layout,
    markup: Markup,
    bed: Bed,
    known: tuple[Levels, list[GroundNote]],
    settings: GroundSettings,
    *,
    absolute: bool,
) -> Sounded:
    """Return the bed moved towards the soundings where it is a form.

    Soundings on a DEM's dry ground only check it: there the DEM is the better evidence.

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
        return Sounded(bed.height, nearness)
    levels, notes = known
    trusted = "soundings" in markup.plan.accepted
    checked = without_outliers(
        markup.soundings, layout, bed, levels, settings.judging, absolute=absolute, trusted=trusted
    )
    height = bed.height.copy()
    formed = bed.under & np.isfinite(bed.height)  # where the form does not reach, unknown stays
    used = formed[checked.cell]
    misfit, compared = 0.0, 0
    taken = [markup.soundings[index] for index in checked.index]
    noise = noise_of(taken, misplaced(layout, bed, checked.cell, settings), settings)
    for number in range(len(layout.channels)):
        mine = used & (layout.owner[checked.cell] == number)
        if not mine.any():
            continue
        cells = np.flatnonzero((layout.owner == number) & formed)
        at, found = checked.cell[mine], checked.bed[mine]
        doubt = Doubt.of(settings, layout.channels[number].median_width)
        wanted = places(layout, bed, cells)
        here, residual = places(layout, bed, at), found - bed.height[at]
        errors = noise.part(np.flatnonzero(mine).astype(np.int32))
        kriged = krige_near(here, residual, wanted, doubt, errors, settings.tracks)
        height[cells] += kriged.value
        some = thinned(residual.size, settings.tracks.together)
        misfit += misfit_of(here.part(some), residual[some], doubt, errors.part(some))
        compared += some.size
        far = settings.sight_widths * layout.channels[number].median_width
        seen = in_sight(layout, bed.under, cells, at, float(far))
        nearness[cells] = np.where(seen, 1 - kriged.variance / doubt.variance(wanted), 0.0)
    highest = bed.low_level - settings.least_depth_m
    height = np.where(bed.under, np.minimum(height, highest), height)
    facts = list(checked.facts)
    for index, cell in zip(checked.index[~used], checked.cell[~used], strict=True):
        why = Why.SEEN_DRY if bed.from_dem[cell] else Why.OFF_FORM
        facts[index] = replace(facts[index], why=why)
    return Sounded(height, nearness, tuple(notes), tuple(facts), misfit, compared)


def noise_of(
    soundings: Sequence[Sounding], misplaced_m: FloatArray, settings: GroundSettings
) -> Noise:
    """Return the errors of soundings: each its own, and what the places of one track share.

    Parameters
    ----------
    soundings
        Those used.
    misplaced_m
        What an error of a phone's place is worth at each [m]; it counts for logged ones.
    settings
        Of the stage.
    """
    names = sorted({one.group for one in soundings if one.group})
    number = {name: index for index, name in enumerate(names)}
    own = np.array([one.error_m for one in soundings], dtype=np.float64)
    own = np.where(np.isfinite(own), own, settings.sounding_error_m)
    logged = np.array([one.origin in BY_PHONE for one in soundings], dtype=bool)
    return Noise(
        np.where(logged, np.hypot(own, misplaced_m), own),
        np.array([number.get(one.group, -1) for one in soundings], dtype=np.int32),
        settings.tracks.set_error_m,
    )


def misplaced(layout: Layout, bed: Bed, cells: np.ndarray, settings: GroundSettings) -> FloatArray:
    """Return how far the bed differs within a phone's error of place of cells [m].

    Root of (p |grad z|)^2 + 2 s^2 (1 - exp(-p / (2^(1/2) L))): the slope of the form, and the local
    doubt s of range L across over a distance p, half of it across.
    """
    corridor, far = layout.corridor, settings.logged_place_m
    slopes = np.gradient(corridor.spread(bed.height, np.nan), corridor.grid.cell)
    steep = np.nan_to_num(np.hypot(*slopes))[corridor.row[cells], corridor.col[cells]]
    reach = np.sqrt(2) * settings.range_across_widths * layout.main.median_width
    local = 2 * settings.local_doubt_m**2 * (1 - np.exp(-far / reach))
    return np.asarray(np.sqrt((far * steep) ** 2 + local))


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
