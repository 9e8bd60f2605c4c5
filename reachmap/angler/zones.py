"""Graded water as polygons, each with what is known of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
from scipy import ndimage
from shapely import Polygon, STRtree

from reachmap.angler.follow import follow_current
from reachmap.angler.view import View
from reachmap.angler.wading import CAREFUL, EASY, GRADES, NONE, UNKNOWN, Wading
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.listed import CellList
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import cells_of, nearest_cells, steps_in, widened
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
    out_m, shore = _out(view, wading.grade), widened(view.dry)
    labels, codes = _patches(view, wading.grade)
    windows: list[Any] = ndimage.find_objects(labels)
    found = [(codes[number], number, one) for one, number in view.grid.polygons(labels)]
    found.sort(key=lambda one: one[0])
    near = _nearest([polygon for _, _, polygon in found], hazards)
    for (code, number, polygon), near_m in zip(found, near, strict=True):
        window = wider(windows[number - 1])
        inside = labels[window] == number
        facts = zone_facts(view, wading, inside, window, hazards, out_m, shore)
        known = facts["below_kind"] is not None or facts["drift_lost"]
        if code in (EASY, CAREFUL) and not known:
            facts["drift_lost"] = _leaves_map(view, inside, window, settings.below_m)
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


def _leaves_map(view: View, inside: BoolArray, window: tuple[slice, slice], below_m: float) -> bool:
    """Return whether a drift from a zone leaves the map within the look."""
    row, col = (axis.astype(np.int32) for axis in np.nonzero(inside))
    drifts = follow_current(view, row + window[0].start, col + window[1].start, below_m)
    return not bool(drifts.whole.all())


def zone_facts(
    view: View,
    wading: Wading,
    inside: BoolArray,
    window: tuple[slice, slice],
    hazards: Sequence[Hazard],
    out_m: PackedRaster,
    shore: BoolArray,
) -> dict[str, Any]:
    """Return what is known of a zone as columns of the layer `wading`.

    Parameters
    ----------
    view, wading
        The flow and its graded water.
    inside, window
        The zone's cells in a window one cell wider than the zone.
    hazards
        What was drawn.
    out_m
        Distance of waded water from ground one can step on [m], (y, x).
    shore
        Ground one can step on and the cells beside it, (y, x).
    """
    side = view.side[window][widened(inside) & view.dry[window]]
    share, where = _along(view.station[window], inside, inside & shore[window])
    drift = wading.drift
    away = np.where(inside, drift.hazard_m.window(*window), np.nan)
    nearest = int(np.nanargmin(away)) if np.isfinite(away).any() else -1
    hazard = hazards[int(drift.hazard.window(*window).flat[nearest])] if nearest >= 0 else None
    return {
        "out_m": _most(out_m.window(*window)[inside]),
        "depth_m": _most(wading.depth.window(*window)[inside]),
        "speed_m_s": _most(wading.speed.window(*window)[inside]),
        "bank_left": bool((side > 0).any()),
        "bank_right": bool((side < 0).any()),
        "bank_island": bool((side == 0).any()),
        "bank_share": share,
        "bank_at": where,
        "no_way_share": float(wading.cut[window][inside].mean()),
        "deep_share": float(np.isfinite(drift.deep_m.window(*window)[inside]).mean()),
        "drift_lost": bool(drift.lost.window(*window)[inside].any()),
        "below_kind": hazard.kind.value if hazard else None,
        "below_note": hazard.note if hazard else "",
        "below_m": float(away.flat[nearest]) if hazard else float("nan"),
    }


def _out(view: View, grade: CodeArray) -> PackedRaster:
    """Return the distance of waded water from ground one can step on [m]; NaN elsewhere."""
    rows, cols = cells_of((grade == EASY) | (grade == CAREFUL))
    away, _, _ = nearest_cells(view.dry, rows, cols)
    out_m = np.where(np.isfinite(away), away * view.cell - view.cell / 2, np.nan)
    return PackedRaster(grade.shape, np.array(np.nan), rows * grade.shape[1] + cols, out_m)


def wider(window: tuple[slice, slice]) -> tuple[slice, slice]:
    """Return a window with one more cell all round, for the ground beside it."""
    rows, cols = window
    return (
        slice(max(rows.start - 1, 0), rows.stop + 1),
        slice(max(cols.start - 1, 0), cols.stop + 1),
    )


def _along(
    station: FloatArray, inside: BoolArray, shore: BoolArray
) -> tuple[float, Stretch | None]:
    """Return the share of a zone's length that touches ground, and where along it that is."""
    all_along, on_shore = station[inside], station[shore]
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


def _most(values: FloatArray) -> float:
    """Return the largest known value; NaN where none is."""
    known = values[np.isfinite(values)]
    return float(known.max()) if known.size else float("nan")
