"""Structure: buckets, slots, ledge pools, drop-offs, lees of boulders and points, rock gardens."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from reachmap.base._kernels_cells import greatest_about
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Window
from reachmap.base.patches import EIGHT, cells_of, disc, steps_in, widened
from reachmap.base.words_runs import StructureKind
from reachmap.water._kernels import BANK, ISLAND
from reachmap.water.bed_forms import BedForms
from reachmap.water.field import WaterField
from reachmap.water.lies import Lies, shelter_distance
from reachmap.water.rows import widths_along
from reachmap.water.structure_settings import LieSettings, StructureSettings
from reachmap.water.zones import pieces, wider


@dataclass(frozen=True, eq=False)
class Feature:
    """One structure at one flow: where its window lies, its mask in it, and how much it stands out.

    `cells` are numbers of its wet cells, in the order of the raster; `relief_m` is how deep a
    hollow is below the bed at large, how far a ledge or shelf falls, how high a stone stands; NaN
    for the lee of a point.
    """

    kind: StructureKind
    place: Window
    mask: BoolArray
    cells: IntArray
    relief_m: float


def find_structure(
    field: WaterField, lies: Lies, lie_rules: LieSettings, rules: StructureSettings
) -> list[Feature]:
    """Return the structures at one flow, supported by evidence or not.

    Parameters
    ----------
    field
        The flow.
    lies
        From `lie_odds`.
    lie_rules
        What slack and quick water is.
    rules
        What counts as a structure, on a river of the usual width.
    """
    rules = rules.on_river(field.width)
    look = _Look.of(field, lies)
    stones = lies.forms.stone >= rules.stone_low_m
    gardens = list(_gardens(look, stones, rules))
    pools = list(_ledge_pools(look, rules))
    pockets, hollow = (np.zeros(field.wet.shape, dtype=bool) for _ in range(2))
    _mark(pockets, gardens)
    _mark(hollow, pools)
    hollows = list(_hollows(look, hollow | pockets, rules))
    _mark(hollow, hollows)
    found = [
        *pools,
        *hollows,
        *_drop_offs(look, hollow, lie_rules.edge_low_m, rules),
        *gardens,
        *_lees(look, stones & ~pockets, lie_rules, rules),
        *_eddies(look, lie_rules, rules),
    ]
    return [one for one in found if one.cells.size]


@dataclass(frozen=True, eq=False)
class _Look:
    """A flow with its bed forms and lies, and the number of each wet cell, -1 dry, (y, x)."""

    field: WaterField
    forms: BedForms
    lies: Lies
    number: IntArray

    @classmethod
    def of(cls, field: WaterField, lies: Lies) -> _Look:
        """Return a flow with its wet cells numbered."""
        forms = lies.forms
        number = np.full(field.wet.shape, -1, dtype=np.int32)
        number[forms.rows, forms.cols] = np.arange(forms.rows.size, dtype=np.int32)
        return cls(field, forms, lies, number)

    @property
    def cell(self) -> float:
        """Return the side of a cell [m]."""
        return self.field.grid.cell

    def mask(self, flags: BoolArray) -> BoolArray:
        """Return flags of the wet cells as a mask, shape (y, x)."""
        found = np.zeros(self.field.wet.shape, dtype=bool)
        found[self.forms.rows, self.forms.cols] = flags
        return found

    def pieces(
        self, mask: BoolArray, area_m2: float
    ) -> Iterator[tuple[Window, BoolArray, IntArray]]:
        """Yield window, mask and wet cells of each connected piece of at least so much area."""
        for place, part in pieces(mask, area_m2 / self.cell**2):
            numbers = self.number[place][part]
            yield place, part, numbers[numbers >= 0]

    def station(self, cells: IntArray) -> FloatArray:
        """Return the stations of wet cells [m]."""
        return np.asarray(self.field.station[self.forms.rows[cells], self.forms.cols[cells]])

    def shape(self, cells: IntArray) -> tuple[float, float]:
        """Return length along the river and median width across it [m]; NaN where not known."""
        along = self.station(cells)
        along = along[np.isfinite(along)]
        if not along.size:
            return float("nan"), float("nan")
        length = float(along.max() - along.min()) + self.cell
        across = widths_along(along, self.cell, bin_m=2 * self.cell)
        return length, float(np.median(across))

    def section(self, cells: IntArray) -> float:
        """Return the median width of the water across wet cells [m]."""
        across = self.field.section.of_cells(self.forms.rows[cells], self.forms.cols[cells])
        return float(np.nanmedian(across))


def _mark(mask: BoolArray, features: list[Feature]) -> None:
    """Add the cells of structures to a mask."""
    for one in features:
        mask[one.place] |= one.mask


def _ledge_pools(look: _Look, rules: StructureSettings) -> Iterator[Feature]:
    """Yield the hollows that span the water and have a step of the bed above them."""
    forms = look.forms
    rise = forms.rise_along
    mask = look.mask(rise >= rules.follow_share * rules.rise_low_m)
    for place, part, cells in look.pieces(mask, rules.hollow_area_m2):
        if not (rise[cells] >= rules.rise_low_m).any():
            continue
        if look.shape(cells)[1] < rules.span_share * look.section(cells):
            continue
        fall = _step_above(look, cells, rules)
        if fall >= rules.ledge_slope:
            relief = float(np.quantile(rise[cells], 0.9))
            yield Feature(StructureKind.LEDGE_POOL, place, part, cells, relief)


def _step_above(look: _Look, cells: IntArray, rules: StructureSettings) -> float:
    """Return the steepest fall of the bed [m/m] on most of the width just above a pool.

    Cells of unknown fall (next to unknown bed) are not counted.
    """
    station = look.station(cells)
    head = float(np.nanmin(station))
    rows, cols = look.field.between(head - rules.ledge_look_m, head + 2 * look.cell)
    above = look.number[rows, cols]
    # The steepest fall by lines along the river: bins of offset a cell wide.
    offset = look.field.offset[rows, cols]
    lines = np.floor((offset - np.nanmin(offset)) / look.cell).astype(np.int64)
    falls = np.zeros(int(lines.max(initial=0)) + 1)
    fall = -look.forms.slope_along[above]
    known = np.isfinite(fall)
    np.maximum.at(falls, lines[known], fall[known])
    return float(np.quantile(falls[np.unique(lines)], 1 - rules.span_share))


def _hollows(look: _Look, taken: BoolArray, rules: StructureSettings) -> Iterator[Feature]:
    """Yield buckets and slots: hollows closed both ways, or across the flow and long."""
    forms = look.forms
    below = -np.nan_to_num(forms.residual)
    rise = np.maximum(forms.rise_along, forms.rise_across)
    share = rules.follow_share
    mask = look.mask((below >= share * rules.below_low_m) & (rise >= share * rules.rise_low_m))
    deep = below >= rules.below_low_m
    across = deep & (forms.rise_across >= rules.rise_low_m)
    closed = across & (forms.rise_along >= rules.rise_low_m)
    for place, part, cells in look.pieces(mask & ~taken, rules.hollow_area_m2):
        if not across[cells].any():
            continue
        length, width = look.shape(cells)
        if width >= rules.span_share * look.section(cells):
            continue
        long = length >= max(rules.slot_ratio * width, rules.slot_length_m)
        if long or closed[cells].any():
            kind = StructureKind.SLOT if long else StructureKind.BUCKET
            relief = float(np.quantile(np.minimum(below, rise)[cells], 0.9))
            yield Feature(kind, place, part, cells, relief)


def _drop_offs(
    look: _Look, hollow: BoolArray, low_m: float, rules: StructureSettings
) -> Iterator[Feature]:
    """Yield the edges of shelves, with their feet; the side of a hollow is part of the hollow."""
    forms = look.forms
    sides = widened(hollow)
    for place, part, cells in look.pieces(look.mask(look.lies.edge > 0) & ~hollow, 0.0):
        rows, cols = forms.rows[cells], forms.cols[cells]
        falls = forms.drop[cells][forms.drop[cells] >= low_m]
        long = float(np.hypot(np.ptp(rows), np.ptp(cols))) * look.cell
        if long < rules.drop_length_m or not falls.size:
            continue
        if sides[rows, cols].mean() < rules.drop_apart:
            yield Feature(StructureKind.DROP_OFF, place, part, cells, float(np.median(falls)))


def _gardens(look: _Look, stones: BoolArray, rules: StructureSettings) -> Iterator[Feature]:
    """Yield the water about boulders that stand close together."""
    steps = steps_in(disc(rules.garden_m / look.cell))
    every = cells_of(look.field.wet | stones)
    near = np.zeros(stones.shape, dtype=bool)
    near[every] = greatest_about(stones.astype(np.float64), *every, *steps) > 0
    for place, part, cells in look.pieces(near, 0.0):
        labels, count = ndimage.label(stones[place] & part, EIGHT)
        if count >= rules.garden_stones:
            tall = ndimage.maximum(look.forms.stone[place], labels, np.arange(1, count + 1))
            yield Feature(StructureKind.ROCK_GARDEN, place, part, cells, float(np.median(tall)))


def _lees(
    look: _Look, stones: BoolArray, lie_rules: LieSettings, rules: StructureSettings
) -> Iterator[Feature]:
    """Yield the slack water below single boulders."""
    if not stones.any():
        return
    lies, forms = look.lies, look.forms
    depth = look.field.depth[forms.rows, forms.cols]
    slack = (lies.slack <= rules.lee_slack) & (lies.quick >= lie_rules.quick_low_m_s)
    slack &= (depth >= rules.lee_depth_low_m) & ~stones[forms.rows, forms.cols]
    slack &= np.isfinite(shelter_distance(look.field, forms, stones, rules.lee_m))
    for place, part, cells in look.pieces(look.mask(slack), rules.lee_area_m2):
        wide = wider(place, round(rules.lee_m / look.cell), stones.shape)
        relief = float((forms.stone * stones)[wide].max())
        yield Feature(StructureKind.BOULDER_LEE, place, part, cells, relief)


def _eddies(look: _Look, lie_rules: LieSettings, rules: StructureSettings) -> Iterator[Feature]:
    """Yield the slack water below points of the banks and of islands."""
    lies, forms, field = look.lies, look.forms, look.field
    banks = (field.code == BANK) | (field.code == ISLAND)
    slack = lies.slack <= lie_rules.slack_high
    slack &= np.isfinite(shelter_distance(field, forms, banks, lie_rules.shelter_m))
    depth, speed = field.depth[forms.rows, forms.cols], field.speed[forms.rows, forms.cols]
    near_quick = (lies.quick >= lie_rules.quick_low_m_s) & (lies.quick >= 2 * speed)
    for place, part, cells in look.pieces(look.mask(slack), rules.eddy_area_m2):
        if not (near_quick & (depth >= rules.lee_depth_low_m))[cells].any():
            continue
        if look.shape(cells)[1] >= rules.point_m:
            yield Feature(StructureKind.EDDY_LINE, place, part, cells, float("nan"))
