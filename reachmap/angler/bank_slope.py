"""Estimates for an unsurveyed bed from the slope of the bank beside it and the side of the bend."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from reachmap.angler.view import View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.patches import disc, nearest_cells, steps_in

FOUR_SIDES = ((-1, 0), (1, 0), (0, -1), (0, 1))


def bank_depth(
    view: View, cells: tuple[IntArray, IntArray], settings: WadingSettings
) -> FloatArray:
    """Return the depth of cells if the nearest surveyed ground kept its slope down to them.

    Parameters
    ----------
    view
        One flow over the ground.
    cells
        Rows and columns of wet cells, shape (n,).
    settings
        Confidence from which ground counts as surveyed, and the radius its slope is averaged over.

    Returns
    -------
    FloatArray
        Depth [m], >= 0, shape (n,): that over the nearest cell surveyed dry by a terrain model (or
        under water, where its bed is known), plus the mean slope of the surveyed ground about that
        cell times the distance. inf where there is no surveyed ground.

    Notes
    -----
    A bank that comes down steeply goes on down: on made rivers the slope of the ground beside an
    unseen bed parts safe from unsafe water better than any mapped quantity (docs/wading.md).
    """
    seen = _seen(view, settings)
    away, row, col = nearest_cells(seen, *cells)
    columns = view.wet.shape[1]
    banks, which = np.unique(row.astype(np.int64) * columns + col, return_inverse=True)
    slope = _slopes(view, seen, np.divmod(banks, columns), settings.bank_reach_m)[which]
    over = np.maximum(np.nan_to_num(view.level[cells] - view.bed[row, col]), 0.0)
    depth = over + slope * np.where(np.isfinite(away), away, 0.0) * view.cell
    return np.where(np.isfinite(away) & np.isfinite(depth), depth, np.inf)


def bend_factor(
    view: View, cells: tuple[IntArray, IntArray], settings: WadingSettings
) -> FloatArray:
    """Return the factor on the error of a synthesised bed: > 1 outside a bend, < 1 inside.

    Shape (n,), of the cells given: exp(c s), s from -1 inside to 1 outside of a bend of at most
    `bend_width_radius` of width over radius; 1 where there is no line. The current scours the
    outside, where a synthesised bed slopes as elsewhere.
    """
    if view.line is None:
        return np.ones(cells[0].size)
    line, width = view.line, view.line.median_width
    reach = max(width / 2 / line.step, 1.0)
    turn = gaussian_filter1d(line.curvatures, reach, mode="nearest") * width
    station, offset = (np.nan_to_num(one[cells]) for one in (view.station, view.offset))
    inside = np.interp(station, line.station, turn) * np.sign(offset)
    return np.asarray(
        np.exp(settings.bend_uncertainty * np.clip(-inside / settings.bend_width_radius, -1.0, 1.0))
    )


def _seen(view: View, settings: WadingSettings) -> BoolArray:
    """Return the mask of ground surveyed by a terrain model, (y, x)."""
    with np.errstate(invalid="ignore"):
        seen = np.asarray(view.confidence[...] >= settings.seen_confidence)
    if not view.bed_seen:
        seen &= ~view.wet_on_terrain_day
    return seen


def _slopes(
    view: View, seen: BoolArray, banks: tuple[IntArray, IntArray], reach_m: float
) -> FloatArray:
    """Return the mean slope of surveyed ground within `reach_m` of cells [m/m], (n,); else NaN."""
    rows, cols = (at[:, None] + step for at, step in zip(banks, _steps(view, reach_m), strict=True))
    n_row, n_col = seen.shape
    inside = (rows > 0) & (cols > 0) & (rows < n_row - 1) & (cols < n_col - 1)
    rows, cols = np.where(inside, rows, 1), np.where(inside, cols, 1)
    usable = inside.copy()
    for d_row, d_col in FOUR_SIDES:
        usable &= seen[np.minimum(rows + d_row, n_row - 1), np.minimum(cols + d_col, n_col - 1)]
    at, of = np.unique(rows[usable].astype(np.int64) * n_col + cols[usable], return_inverse=True)
    row, col = np.divmod(at, n_col)
    up, down, left, right = (view.bed[row + d_row, col + d_col] for d_row, d_col in FOUR_SIDES)
    slope = np.zeros(usable.shape)
    slope[usable] = (np.hypot(down - up, right - left) / (2 * view.cell))[of]
    count = usable.sum(axis=1)
    return np.where(count > 0, slope.sum(axis=1) / np.maximum(count, 1), np.nan)


def _steps(view: View, reach_m: float) -> tuple[IntArray, IntArray]:
    """Return rows and columns of the steps to the cells within `reach_m` of a cell."""
    return steps_in(disc(reach_m / view.cell))
