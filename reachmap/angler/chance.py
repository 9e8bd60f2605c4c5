"""The chance that water exceeds what one person can stand in, cell by cell."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import ndimage
from scipy.special import ndtr, ndtri

from reachmap.angler._kernels_near import sums_about
from reachmap.angler.bank_slope import bank_depth, bend_factor
from reachmap.angler.rules import WadeLimit
from reachmap.angler.view import View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base._kernels_cells import greatest_about
from reachmap.base.arrays import FloatArray
from reachmap.base.patches import disc, steps_in

SLICES = 9
"""Slices of equal chance over which the depth is integrated: 90 change no grade."""

LEAST_SPREAD = 1e-3
"""Standard errors are never taken smaller [m, m/s]; keeps the division defined."""

DEPTH_POWER, SPEED_POWER = 0.6, 0.4
"""Depth and speed of a wide section with upright banks grow with the flow to these powers: exact
from Manning's formula at one slope and roughness; banks that lie back leave both smaller."""


class Water(NamedTuple):
    """Depth and speed to expect and their standard errors [m, m/s], arrays of one shape."""

    depth: FloatArray
    speed: FloatArray
    depth_error: FloatArray
    speed_error: FloatArray


def expected_water(view: View, speed: FloatArray, settings: WadingSettings) -> Water:
    """Return the depth and speed to expect at each wet cell (n,), and how far they may be off.

    Parameters
    ----------
    view
        One flow over the ground.
    speed
        Mapped speed of the wet cells [m/s], (n,), with what brush hides already in it.
    settings
        Standard errors and how far around a cell is looked at.

    Notes
    -----
    Independent parts, added as squares. Depth: the bed's error by its evidence, the spread of the
    mapped depth nearby (the water may be displaced on the map), a share of the depth, a constant;
    where the bed was neither seen nor sounded also a share of the deepest mapped water within some
    5 m (a bank may drop straight into a pool where the synthesised bed slopes), but no more
    than `bank_slope.bank_depth` where the bank slopes gently, and how far the bed lies below the
    map if the bank keeps its slope; more outside of a bend, less inside.
    Speed: a share of the quickest mapped water within some 20 m (a seam or a riffle's tongue may
    be displaced on the map, which the cell's own speed does not show), the spread nearby, a
    constant. Both are multiplied by `settings.doubt` and by `view.bed_doubt`, the factor by which
    soundings differed from the synthesised bed. The parts were chosen on made
    rivers whose truth is known (docs/wading.md).

    With an error of the gauge the river may carry more than is read: mean depth and speed are
    moved to (1 + error) times the flow by Manning's formula, the level rising alike everywhere.
    """
    known, size = np.array(settings.bed_errors).T
    wet = view.wet_cells
    # Unknown confidence counts as none, with the largest error.
    sure = np.nan_to_num(view.confidence[wet])
    bed = np.interp(sure, known, size)
    more = 1 + settings.gauge_error
    depth, quick = np.nan_to_num(view.depth[wet]), np.nan_to_num(speed)
    mean = float(depth.mean()) if depth.size else 0.0
    depth, quick = depth + mean * (more**DEPTH_POWER - 1), quick * more**SPEED_POWER
    depth_spread = local_spread(view, view.depth[wet], settings.place_error_m)
    speed_spread = local_spread(view, speed, settings.place_error_m)
    fastest = greatest_near(view, quick, settings.quick_near_m)
    share = settings.place_share
    low, high = settings.unsounded
    unsounded = np.clip((high - sure) / (high - low), 0.0, 1.0)
    deepest, below, turn = _of_unseen(view, depth, unsounded, settings)
    depth_error = np.sqrt(
        (turn * settings.bed_factor * bed) ** 2
        + (turn * unsounded * settings.deep_share * deepest) ** 2
        + (unsounded * below) ** 2
        + (share * depth_spread) ** 2
        + (settings.depth_error_share * depth) ** 2
        + settings.depth_error_m**2
    )
    speed_error = np.sqrt(
        (settings.speed_doubt * fastest) ** 2
        + (share * speed_spread) ** 2
        + settings.speed_error_m_s**2
    )
    # A bed surveyed under water has no synthesised part, so the soundings' factor does not apply.
    doubt = settings.doubt * (1.0 if view.bed_seen else view.bed_doubt)
    return Water(depth, quick, doubt * depth_error, doubt * speed_error)


def _of_unseen(
    view: View, depth: FloatArray, unsounded: FloatArray, settings: WadingSettings
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return estimates for an unsurveyed bed from the bank, each of shape (n,).

    The depth it may have if displaced on the map [m]: the deepest mapped water nearby, or less
    where the bank slopes gently; how far it lies below the map if the bank keeps its slope [m];
    and the factor on its error by the side of the bend.
    """
    deepest = greatest_near(view, depth, settings.deep_near_m)
    below, turn = np.zeros(depth.shape), np.ones(depth.shape)
    some = np.flatnonzero(unsounded > 0)
    if some.size:
        row, col = view.wet_cells
        cells, share = (row[some], col[some]), unsounded[some]
        bank = bank_depth(view, cells, settings)
        deepest[some] = np.minimum(deepest[some], np.maximum(bank, settings.deep_low_m))
        below[some] = np.where(np.isfinite(bank), np.maximum(bank - depth[some], 0.0), 0.0)
        turn[some] = 1 + share * (bend_factor(view, cells, settings) - 1)
    return deepest, below, turn


def chance_beyond(water: Water, limit: WadeLimit, correlation: float) -> FloatArray:
    """Return the chance that depth, speed or their product exceeds its limit, 0 to 1.

    Parameters
    ----------
    water
        What to expect; any shape.
    limit
        The most that is allowed; infinite where a rule is silent.
    correlation
        Of the errors of depth and speed, -1 to 1: negative, since a section that is deeper than
        mapped carries its flow slower.

    Notes
    -----
    Depth is normal; speed, given the depth, is normal too. Past the depth limit all is beyond; the
    rest is cut into `SLICES` slices of depth of equal chance, in the middle of each of which the
    speed allowed is the least of the speed limit and product over depth.
    """
    depth_error = np.maximum(water.depth_error, LEAST_SPREAD)
    speed_error = np.maximum(water.speed_error, LEAST_SPREAD)
    too_deep = ndtr((water.depth - limit.depth_m) / depth_error)
    rest = 1 - too_deep
    total = too_deep.copy()
    # Share of the error of speed that depth does not explain: sd(v | h) = sd(v) sqrt(1 - r^2).
    left = np.sqrt(1 - correlation**2)
    for middle in (np.arange(SLICES) + 0.5) / SLICES:
        # Quantile of a slice's middle within what is left
        # below the depth limit, in standard errors of depth.
        z = ndtri(np.clip(rest * middle, 1e-9, 1 - 1e-9))
        depth = np.clip(water.depth + depth_error * z, 0.01, limit.depth_m)
        allowed = np.minimum(limit.speed_m_s, limit.product_m2_s / depth)
        # Mean of speed given depth. With r < 0 a cell deeper than mapped (z > 0) runs slower, so
        # that deep and quick together are rarer than their product says.
        expected = water.speed + correlation * speed_error * z
        total += rest / SLICES * ndtr((expected - allowed) / (speed_error * left))
    return np.asarray(np.clip(total, 0.0, 1.0))


def local_spread(view: View, values: FloatArray, reach_m: float) -> FloatArray:
    """Return the standard deviation of values within `reach_m` [m] of each wet cell.

    Values and result have the shape (n,) of `view.wet_cells`; dry cells count as zero. A reach of
    less than one cell is taken as one: the cells beside.
    """
    steps = steps_in(disc(reach_m / view.cell))
    here = view.spread(np.nan_to_num(values))
    mean, square = sums_about(here, *view.wet_cells, *steps, 1 / steps[0].size, held=True)
    return np.asarray(np.sqrt(np.maximum(square - mean**2, 0.0)))


def greatest_near(view: View, values: FloatArray, reach_m: float) -> FloatArray:
    """Return the greatest of values >= 0 of the wet cells within about `reach_m` [m] of each.

    Values and result have the shape (n,) of `view.wet_cells`.
    """
    cells = max(reach_m / view.cell, 1.0)
    rounds = max(int(cells / 5), 1)  # discs added to one another make a larger disc
    small = disc(cells / rounds)
    about = np.pad(small, (rounds - 1) * (small.shape[0] // 2))
    if rounds > 1:
        about = ndimage.binary_dilation(about, small, iterations=rounds - 1)
    return np.asarray(greatest_about(view.spread(values), *view.wet_cells, *steps_in(about)))


def smoothed_chance(view: View, chance: FloatArray, reach_m: float) -> FloatArray:
    """Return the mean chance over the wet cells within `reach_m` [m]; NaN stays NaN.

    Cutting a smooth field leaves zones that one can see and stand in, not crumbs. A reach of 0 or
    less leaves the chance as it is. Values and result have the shape (n,) of `view.wet_cells`.
    """
    if reach_m <= 0:
        return chance
    known = np.isfinite(chance)
    steps = steps_in(disc(reach_m / view.cell))
    total, count = (
        sums_about(view.spread(values), *view.wet_cells, *steps, 1.0, held=False)[0]
        for values in (np.where(known, chance, 0.0), known.astype(np.float64))
    )
    return np.where(known, total / np.maximum(count, 1e-9), np.nan)
