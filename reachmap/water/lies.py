"""Lies: odds that a fish that comes by holds at a cell, by depth, speed near the bed, cover."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base._kernels_cells import greatest_about
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.near_bed import near_bed_share
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import disc, steps_in
from reachmap.base.resistance import resistance_at, shallow_excess
from reachmap.markup.model import StructureMark
from reachmap.water._kernels_forms import sheltered_by
from reachmap.water.bed_forms import BedForms, find_bed_forms, ground_cells
from reachmap.water.field import WaterField, packed_by_mask
from reachmap.water.structure_settings import BedFormSettings, LieSettings

CARRY = 2 / 3
"""Speed goes with this power of depth at one slope (Manning)."""


@dataclass(frozen=True, eq=False)
class Lies:
    """Where fish would hold at one flow, at the wet cells in the order of the raster, shape (n,).

    Parameters
    ----------
    forms
        The bed's forms, with rows and columns of the cells.
    odds
        That a fish that comes by holds here, 0 to 1; NaN where bed or current is not known.
    near_bed
        Speed where a fish holds, near the bed [m/s].
    slack
        Speed over what the depth would carry at the slope of the quickest water across from it.
    quick
        Speed of the quickest water near by [m/s].
    shelter_m
        Distance up the current to a bank, island or boulder that shelters [m]; infinite: none.
    edge
        1 on a drop-off and at its foot, else 0.
    bed_known
        Whether the bed is known well enough for its forms to count, shape (n,).
    marked
        Number of the angler's mark within reach, from 1; 0 where there is none.
    wet
        The cells, shape (y, x).
    """

    forms: BedForms
    odds: FloatArray
    near_bed: FloatArray
    slack: FloatArray
    quick: FloatArray
    shelter_m: FloatArray
    edge: FloatArray
    bed_known: BoolArray
    marked: IntArray
    wet: BoolArray

    @property
    def raster(self) -> PackedRaster:
        """Return the odds on the field's raster, NaN where dry or not known."""
        return packed_by_mask(self.wet, self.odds)


def lie_odds(
    field: WaterField,
    ground: xr.Dataset,
    settings: LieSettings,
    *,
    scales: BedFormSettings | None = None,
    clearness: float = 1.0,
    marks: Sequence[StructureMark] = (),
) -> Lies:
    """Return where a fish that comes by would hold at one flow.

    Parameters
    ----------
    field
        The flow, from `field_of(ground, flow, ...)`.
    ground
        The ground stage's Dataset.
    settings
        The season's limits of lies, and what shelter is worth.
    scales
        Of the bed's forms.
    clearness
        How far one sees over how far one sees in clear water, 0 to 1: in coloured water fish lie
        shallower (common practice), down to 0.4 of the least depth.
    marks
        Places that the angler knows to hold fish: as good as hollows at every flow at which depth
        and speed suit.

    Notes
    -----
    odds = depth x slow x (plain + (1 - plain) S), with S = 1 - (1 - a hollow)(1 - b lee)(1 - c
    edge): soft memberships, each 0 to 1. A lie is deep enough, slow near the bed, and in a hollow,
    in slack water beside quick, or at the foot of a drop. The weights are our choice; measured on
    made rivers in docs/reading-the-water.md. Hollows and drops count as far as the bed is known: a
    form drawn between banks has its pools by a rule of bends.
    """
    scales = scales or BedFormSettings()
    forms = find_bed_forms(field, ground, scales)
    cells = forms.rows, forms.cols
    depth, speed = field.depth[cells], field.speed[cells]
    sure = np.nan_to_num(field.confidence.of_cells(*cells))
    known = _soft(sure - settings.known_low, settings.known_soft)
    hollow = known * _soft(forms.closed - settings.hollow_low_m, settings.hollow_soft_m)
    marked = near_marks(field, cells, marks, settings.mark_m)
    hollow = np.maximum(hollow, marked > 0)
    near_bed = speed * near_bed_share(depth, _roughness(field, ground, depth), settings.near_bed_m)
    near_bed *= 1.0 - settings.hollow_shelter * hollow
    slack = _slack(field, cells, depth, speed)
    quick = _quickest_near(field, cells, settings.quick_near_m)
    shelter_m = _shelter(field, forms, settings)
    lee = (
        _soft(settings.slack_high - slack, settings.slack_soft)
        * _soft(quick - settings.quick_low_m_s, settings.quick_soft_m_s)
        * np.where(np.isfinite(shelter_m), 1.0, settings.open_lee)
    )
    limits = settings.limits
    least = limits.depth_low_m * min(max(clearness, 0.4), 1.0)
    deep = _soft(depth - least, settings.depth_soft_m)
    deep *= _soft(limits.depth_high_m - depth, 3 * settings.depth_soft_m)
    slow = _soft(limits.speed_high_m_s - near_bed, settings.speed_soft_m_s)
    edge = known * _edges(forms, settings.edge_low_m, scales.drop_half_m)
    cover = 1.0 - (1.0 - settings.hollow_worth * hollow) * (1.0 - settings.lee_worth * lee) * (
        1.0 - settings.edge_worth * edge
    )
    odds = deep * slow * (settings.plain_odds + (1.0 - settings.plain_odds) * cover)
    bed_known = sure >= settings.known_low
    return Lies(forms, odds, near_bed, slack, quick, shelter_m, edge, bed_known, marked, field.wet)


def near_marks(
    field: WaterField,
    cells: tuple[IntArray, IntArray],
    marks: Sequence[StructureMark],
    reach_m: float,
) -> IntArray:
    """Return which mark, from 1, each cell lies within `reach_m` [m] of, 0 of none; shape (n,)."""
    near = np.zeros(cells[0].shape, dtype=np.int32)
    if marks:
        places = field.grid.points(*cells)
        for order, mark in enumerate(marks, start=1):
            away = np.hypot(places[:, 0] - mark.place.x, places[:, 1] - mark.place.y)
            near[away <= reach_m] = order
    return near


def clearness_in(clarity_m: float, clear_m: float) -> float:
    """Return how far one sees [m] over how far one sees in clear water [m], 0 to 1."""
    return min(max(clarity_m / clear_m, 0.0), 1.0)


def _soft(above: FloatArray, width: float) -> FloatArray:
    """Return how much a number lies above a limit, 0 to 1: 0.5 at it (the logistic curve)."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(above / width, -40.0, 40.0))))


def _roughness(field: WaterField, ground: xr.Dataset, depth: FloatArray) -> FloatArray:
    """Return Manning's n at the depths of the wet cells [s/m^(1/3)]."""
    deep, term = resistance_at(ground, ground_cells(ground, field))
    return deep if term is None else np.asarray(deep * np.sqrt(1 + shallow_excess(term, depth)))


def _slack(
    field: WaterField, cells: tuple[IntArray, IntArray], depth: FloatArray, speed: FloatArray
) -> FloatArray:
    """Return speed over what the depth would carry at the slope of the strongest water across.

    By Manning speed goes with depth^(2/3) at one slope and roughness, so that the rim of a bank is
    no slacker than the middle: its water is only thinner.
    """
    row, col = (one.of_cells(*cells) for one in field.thalweg)
    main = np.where(row >= 0, field.speed[row, col] / field.depth[row, col] ** CARRY, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        # Where all of it stands, nothing is slacker than the rest.
        return np.where(main == 0, 1.0, speed / (main * depth**CARRY))


def _quickest_near(
    field: WaterField, cells: tuple[IntArray, IntArray], reach_m: float
) -> FloatArray:
    """Return the speed of the quickest water within `reach_m` [m/s]."""
    steps = steps_in(disc(reach_m / field.grid.cell))
    return np.asarray(greatest_about(np.nan_to_num(field.speed), *cells, *steps))


def _shelter(field: WaterField, forms: BedForms, settings: LieSettings) -> FloatArray:
    """Return the distance up the current to a shelter from each cell [m]; infinite: none."""
    blocks = ~field.wet | (forms.stone > settings.hollow_low_m)
    return shelter_distance(field, forms, blocks, settings.shelter_m)


def shelter_distance(
    field: WaterField, forms: BedForms, blocks: BoolArray, reach_m: float
) -> FloatArray:
    """Return how far up the current one of `blocks` lies from each wet cell [m]; infinite: none.

    Parameters
    ----------
    blocks
        Cells that shelter from the current, shape (y, x).
    reach_m
        How far to look [m].
    """
    found = sheltered_by(
        blocks,
        forms.rows,
        forms.cols,
        field.across_col,
        -field.across_row,  # left of downstream (a, b) in rows and columns is (-b, a)
        round(reach_m / field.grid.cell),
    )
    return np.asarray(found * field.grid.cell)


def _edges(forms: BedForms, low_m: float, half_m: float) -> FloatArray:
    """Return 1 on a drop-off that falls by `low_m` and on its foot, else 0; shape (n,)."""
    edge = np.zeros(forms.ground.shape)
    at = np.flatnonzero(forms.drop >= low_m)
    steep = np.hypot(forms.near.q[at], forms.near.p[at])
    for step in np.arange(0.0, half_m + 0.01, 0.5 * forms.near.cell):
        far = step / (steep * forms.near.cell)
        row = np.rint(forms.rows[at] - forms.near.q[at] * far).astype(np.int32)
        col = np.rint(forms.cols[at] - forms.near.p[at] * far).astype(np.int32)
        edge[row, col] = 1.0
    return np.asarray(edge[forms.rows, forms.cols])
