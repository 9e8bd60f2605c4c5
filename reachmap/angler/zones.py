"""Graded water as polygons with their facts: depth, speed, bank, drift and hazards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import Polygon, STRtree

from reachmap.angler.follow import follow_current
from reachmap.angler.view import View
from reachmap.angler.wading import CAREFUL, EASY, GRADES, NONE, UNKNOWN, Wading
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.listed import CellList
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import FOUR, cells_of, nearest_cells, steps_in, widened
from reachmap.base.schema import layer_frame
from reachmap.base.words import Stretch
from reachmap.markup.model import Hazard

END_SHARE = 0.35
"""Ground within this share of a zone's length from an end lies at that end; our choice, 0.2-0.4."""


def wading_layer(
    view: View,
    wading: Wading,
    hazards: Sequence[Hazard],
    settings: WadingSettings,
) -> gpd.GeoDataFrame:
    """Return the `wading` layer at one flow: one row a patch of one grade.

    Water of unknown grade is drawn where it touches known water; what lies farther off is not on
    the map at all.
    """
    rows: list[dict[str, Any]] = []
    labels, codes = _patches(view, wading.grade)
    found = [(codes[number], number, one) for one, number in view.grid.polygons(labels)]
    found.sort(key=lambda one: one[0])
    near = _nearest([polygon for _, _, polygon in found], hazards)
    zones = Zones.of(labels, len(codes) - 1)
    facts_of = zone_facts(view, wading, zones, hazards)
    for (code, number, polygon), near_m in zip(found, near, strict=True):
        facts = facts_of[number - 1]
        known = facts["below_kind"] is not None or facts["drift_lost"]
        if code in (EASY, CAREFUL) and not known:
            facts["drift_lost"] = _leaves_map(view, zones.cells_of(number), settings.below_m)
        rows.append(
            {
                "flow": view.flow,
                "flow_label": view.label,
                "grade": GRADES[code].value,
                "area_m2": float(polygon.area),
                "chance": _chance(code, settings),
                **facts,
                "near_m": near_m,
                "looked_m": settings.below_m,
                "geometry": polygon,
            }
        )
    return layer_frame("wading", rows, view.grid.crs)


@dataclass(frozen=True, slots=True)
class Zones:
    """The cells of zones numbered from 1, zone by zone, in the order of the raster within each.

    Parameters
    ----------
    cells
        Cells of the flattened raster, shape (n,).
    number
        Number of the zone of each, rising, shape (n,).
    begin
        Place of each zone's first cell, and the end of the last zone's, shape (zones + 1,).
    """

    cells: IntArray
    number: IntArray
    begin: IntArray

    @classmethod
    def of(cls, labels: IntArray, count: int) -> Zones:
        """Return the zones of a raster of numbers, 0 for none; each of `count` has a cell."""
        cells = np.flatnonzero(labels).astype(np.int32)
        number = labels.ravel()[cells]
        order = np.argsort(number, kind="stable")
        number = number[order]
        begin = np.searchsorted(number, np.arange(1, count + 2)).astype(np.int32)
        return cls(cells[order], number, begin)

    def cells_of(self, number: int) -> IntArray:
        """Return the cells of one zone."""
        return self.cells[self.begin[number - 1] : self.begin[number]]

    def greatest(self, values: FloatArray) -> FloatArray:
        """Return the greatest known value in each zone, shape (zones,); NaN where none is."""
        finite = np.where(np.isfinite(values), values, np.nan)
        return np.fmax.reduceat(finite, self.begin[:-1])

    def share(self, mask: BoolArray) -> FloatArray:
        """Return the share of each zone's cells that are marked, shape (zones,)."""
        marked = np.add.reduceat(mask.astype(np.int64), self.begin[:-1])
        return np.asarray(marked / np.diff(self.begin))

    def touched_by_land(self, view: View) -> list[BoolArray]:
        """Return which zones dry ground of each kind touches: of the left, right and no land."""
        row, col = np.divmod(self.cells, view.dry.shape[1])
        touched = [np.zeros(self.begin.size - 1, dtype=bool) for _ in range(3)]
        for d_row, d_col in zip(*steps_in(FOUR), strict=True):
            r, c = row + d_row, col + d_col
            ok = (r >= 0) & (c >= 0) & (r < view.dry.shape[0]) & (c < view.dry.shape[1])
            r, c, zone = r[ok], c[ok], self.number[ok] - 1
            dry, side = view.dry[r, c], view.side[r, c]
            for mark, kind in zip(touched, (side > 0, side < 0, side == 0), strict=True):
                mark[zone[dry & kind]] = True
        return touched


def _nearest(polygons: Sequence[Polygon], hazards: Sequence[Hazard]) -> FloatArray:
    """Return how far the nearest drawn hazard is from each polygon [m], shape (n,); NaN: none."""
    away = np.full(len(polygons), np.nan)
    tree = STRtree([hazard.shape for hazard in hazards])
    (which, _), far = tree.query_nearest(polygons, return_distance=True, all_matches=False)
    away[which] = far
    return away


def _patches(view: View, grade: CodeArray) -> tuple[IntArray, list[int]]:
    """Return numbers from 1 of patches of one grade, 0 elsewhere, and the grade of each number."""
    drawn = (grade != NONE) & (grade != UNKNOWN)
    near = _about(view, 2)
    drawn[near] |= grade[near] == UNKNOWN
    river = CellList.of(drawn)
    mine = grade.ravel()[river.cells]
    found = np.zeros(mine.shape, dtype=np.int32)
    codes = [0]
    for code in GRADES:
        patches = river.patches(mine == code)
        found += np.where(patches > 0, patches + (len(codes) - 1), 0)
        codes += [code] * int(patches.max(initial=0))
    numbers = np.zeros(grade.shape, dtype=np.int32)
    numbers.ravel()[river.cells] = found
    return numbers, codes


def _about(view: View, margin: int) -> tuple[IntArray, IntArray]:
    """Return rows and columns of the cells at most `margin` cells off water, some twice."""
    row, col = view.wet_cells
    d_row, d_col = steps_in(np.ones((2 * margin + 1, 2 * margin + 1), dtype=bool))
    rows, cols = (row[:, None] + d_row).ravel(), (col[:, None] + d_col).ravel()
    inside = (rows >= 0) & (rows < view.wet.shape[0]) & (cols >= 0) & (cols < view.wet.shape[1])
    return rows[inside], cols[inside]


def _chance(code: int, settings: WadingSettings) -> float:
    """Return the chance of being beyond a limit that a grade stays under; NaN where it has none."""
    easy = min(settings.easy_chance, settings.careful_chance)
    return {EASY: easy, CAREFUL: settings.careful_chance}.get(code, float("nan"))


def _leaves_map(view: View, cells: IntArray, below_m: float) -> bool:
    """Return whether a drift from a zone leaves the map within the look."""
    row, col = (axis.astype(np.int32) for axis in np.divmod(cells, view.wet.shape[1]))
    return not bool(follow_current(view, row, col, below_m).whole.all())


def zone_facts(
    view: View, wading: Wading, zones: Zones, hazards: Sequence[Hazard]
) -> list[dict[str, Any]]:
    """Return the facts of each zone, by number, as columns of the layer `wading`.

    Parameters
    ----------
    view, wading
        The flow and its graded water.
    zones
        Its patches of one grade.
    hazards
        What was drawn.
    """
    if not zones.cells.size:
        return []
    drift, cells = wading.drift, zones.cells
    left, right, island = zones.touched_by_land(view)
    out_m = zones.greatest(_out(view, wading.grade).at(cells))
    depth, speed = (zones.greatest(one.at(cells)) for one in (wading.depth, wading.speed))
    no_way = zones.share(wading.cut.ravel()[cells])
    deep, lost = zones.share(np.isfinite(drift.deep_m.at(cells))), zones.share(drift.lost.at(cells))
    away, which = drift.hazard_m.at(cells), drift.hazard.at(cells)
    station = view.station[np.divmod(cells, view.dry.shape[1])]
    shore = widened(view.dry).ravel()[cells]
    facts = []
    for k, (first, end) in enumerate(pairwise(zones.begin.tolist())):
        mine = slice(first, end)
        share, where = _along(station[mine], shore[mine])
        nearest = int(np.nanargmin(away[mine])) if np.isfinite(away[mine]).any() else -1
        hazard = hazards[int(which[mine][nearest])] if nearest >= 0 else None
        facts.append(
            {
                "out_m": float(out_m[k]),
                "depth_m": float(depth[k]),
                "speed_m_s": float(speed[k]),
                "bank_left": bool(left[k]),
                "bank_right": bool(right[k]),
                "bank_island": bool(island[k]),
                "bank_share": share,
                "bank_at": where,
                "no_way_share": float(no_way[k]),
                "deep_share": float(deep[k]),
                "drift_lost": bool(lost[k] > 0),
                "below_kind": hazard.kind.value if hazard else None,
                "below_note": hazard.note if hazard else "",
                "below_m": float(away[mine][nearest]) if hazard else float("nan"),
            }
        )
    return facts


def _out(view: View, grade: CodeArray) -> PackedRaster:
    """Return the distance of waded water from ground one can step on [m]; NaN elsewhere."""
    rows, cols = cells_of((grade == EASY) | (grade == CAREFUL))
    away, _, _ = nearest_cells(view.dry, rows, cols)
    out_m = np.where(np.isfinite(away), away * view.cell - view.cell / 2, np.nan)
    return PackedRaster(grade.shape, np.array(np.nan), rows * grade.shape[1] + cols, out_m)


def _along(station: FloatArray, shore: BoolArray) -> tuple[float, Stretch | None]:
    """Return the share of a zone's length that touches ground, and where along it that is."""
    all_along, on_shore = station, station[shore]
    all_along, on_shore = all_along[np.isfinite(all_along)], on_shore[np.isfinite(on_shore)]
    if not all_along.size or not on_shore.size:
        return 0.0, None
    low, high = float(all_along.min()), float(all_along.max())
    bins = max(int((high - low) / 5.0), 1)
    edges = np.linspace(low, high + 1e-6, bins + 1)
    share = np.unique(np.searchsorted(edges, on_shore, side="right")).size / bins
    middle = (float(np.median(on_shore)) - low) / max(high - low, 1e-6)
    if middle < END_SHARE:
        return share, Stretch.UPPER
    return share, Stretch.LOWER if middle > 1 - END_SHARE else Stretch.MIDDLE
