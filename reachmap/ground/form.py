"""The unmeasured bed: a channel form whose depth carries the known discharge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import binary_closing, gaussian_filter1d

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.physics import GRAVITY
from reachmap.base.resistance import Stones, unit_conveyance
from reachmap.ground.profiles import smoothed_along
from reachmap.ground.sections import Sections, runs_of
from reachmap.ground.settings import GroundSettings

ENERGY_ROUNDS = 8
"""How often the velocity head is put back into the slope (our choice; it settles in about five)."""
CLOSING_ROUNDS, CLOSED = 30, 1e-10
"""Most steps, and the error of the discharge, to which depths over stones are closed."""


@dataclass(frozen=True, slots=True)
class Form:
    """The form of a channel at low water, on its sections.

    Parameters
    ----------
    depth
        Below the low water [m] (rows, columns); 0 where dry.
    tilt
        What the lean of the sections adds to the depth [m] (rows, columns): positive on the outside
        of bends, negative inside.
    slope
        Friction slope used in each row [m/m].
    """

    depth: FloatArray
    tilt: FloatArray
    slope: FloatArray


def section_shape(
    wet: BoolArray, offset: FloatArray, lean: FloatArray, exponent: float, narrow_power: float
) -> FloatArray:
    """Return the relative depth of each point of a row, 0 where dry.

    Each run of wet points between two dry ones is a branch of its own with
    (1 - abs(c)^p)(1 - a c), c from -1 at its right edge to 1 at its left; a branch narrower than
    the widest of its row is shallower by the power `narrow_power` of their widths.

    Parameters
    ----------
    wet
        Mask (rows, columns).
    offset
        Of the columns [m], rising to river left.
    lean
        a of each row, -1 to 1, positive where the right side is the deeper.
    exponent
        p, > 0.
    narrow_power
        0: branches are as deep as the widest; see `FormSettings`.
    """
    first, last = runs_of(wet)
    half = np.where(wet, (last - first + 1) / 2, 1.0)
    middle = (first + last) / 2
    across = (np.arange(len(offset)) - middle) / half
    shape = (1 - np.abs(across) ** exponent) * (1 - lean[:, None] * across)
    widest = np.max(np.where(wet, half, 0), axis=1, keepdims=True)
    shape *= (half / np.maximum(widest, 1e-9)) ** narrow_power
    return np.where(wet, np.maximum(shape, 0), 0.0)


def closing_depth(
    shape: FloatArray,
    roughness: FloatArray,
    slope: FloatArray,
    flow: FloatArray,
    spacing: float,
    stones: Stones | None = None,
) -> FloatArray:
    """Return each row's depth scale d so that sum (d shape)^(5/3)/n sqrt(S) dy = Q.

    Manning's formula point by point: wide, shallow flow, no exchange between points.

    Parameters
    ----------
    shape
        Relative depth (rows, columns), >= 0.
    roughness
        Manning's n (rows, columns) [s/m^(1/3)].
    slope
        Friction slope of each row, > 0.
    flow
        Discharge of each row [m3/s].
    spacing
        Distance between columns [m].
    stones
        Of the bed: `roughness` is then that at their depth, and greater in shallower water.

    Returns
    -------
    FloatArray
        Depth scale [m] of each row; NaN where the row has no shape.
    """
    # Q = d^(5/3) carry, hence d = (Q / carry)^(3/5).
    carry = (shape ** (5 / 3) / roughness).sum(axis=1) * spacing * np.sqrt(slope)
    scale = np.where(carry > 0, flow / np.where(carry > 0, carry, 1.0), np.nan) ** 0.6
    if stones is None or stones.size_m == 0:
        return np.asarray(scale)
    deep, root = roughness / np.sqrt(1 + stones.excess), spacing * np.sqrt(slope)
    for _ in range(CLOSING_ROUNDS):
        # What is carried grows with d to a power of 5/3 to 5/2: the mean one makes this converge.
        carried = unit_conveyance(scale[:, None] * shape, deep, stones.term).sum(axis=1) * root
        miss = np.where(carry > 0, flow / np.where(carry > 0, carried, 1.0), 1.0)
        scale = scale * miss**0.48
        if np.abs(miss - 1).max(initial=0.0) < CLOSED:
            break
    return np.asarray(scale)


def bend_lean(
    curvature: FloatArray, width: FloatArray, strength: float, lag: float, most: float
) -> FloatArray:
    """Return a of the section shape from the turn of the river.

    The transverse bed slope A h / r over half a width, relative to the depth: a = A W / (2 r),
    taken `lag` rows upstream and kept within +-`most`.
    """
    rows = np.arange(len(curvature), dtype=np.float64)
    # Curvature is positive where the river turns left; its outside, the deeper side, is then the
    # right.
    turned = np.interp(rows - lag, rows, curvature)
    return np.clip(strength * turned * width / 2, -most, most)


def through_pools(
    scale: FloatArray, still: BoolArray, reach: int, *, deepest: float, most: float = np.inf
) -> FloatArray:
    """Return depth scales with a smooth pool wherever the water is too still to give its depth.

    Where the fall of the water is below what a survey resolves, closing the discharge gives no more
    than a least depth. There the depth runs on as it came: a cubic that takes up value and slope of
    the rows before and after, never shallower than the least. Closing at the floor of the slope, or
    the cubic across a long gap, can make a pool no river has: still rows are held to `most` times
    the median of the others, or to the deeper of their own two ends where that is more.

    Parameters
    ----------
    scale
        Depth scale by row [m].
    still
        Rows whose slope was held at its floor.
    reach
        Rows over which the slope before and after is taken; gaps shorter than four times this
        within a still stretch are closed.
    deepest
        Most times as deep as the row before it.
    most
        Times the median depth scale of the rows whose slope is known, > 0.
    """
    filled = scale.copy()
    closed = scale[~still & (scale > 0)]
    limit = most * float(np.median(closed)) if closed.size else np.inf
    gap = 4 * reach
    # Padded: closing takes what lies beyond the array for water that moves, and would shorten
    # still stretches at the ends.
    still = binary_closing(np.pad(still, gap), np.ones(gap, dtype=bool))[gap : gap + len(still)]
    # First row of each still stretch and the row after its last, in turn.
    turns = np.flatnonzero(np.diff(np.r_[0, still.astype(np.int8), 0]))
    for first, after in zip(turns[::2], turns[1::2], strict=True):
        if first < reach + 1 or after + reach >= len(scale) or after - first < 3:
            filled[first:after] = np.minimum(filled[first:after], limit)
            continue
        before, behind = scale[first - 1 - reach : first], scale[after : after + reach + 1]
        start, end = np.median(before[-3:]), np.median(behind[:3])
        # A pool may only deepen on the way in and shoal on the way out.
        rise = max(float(start - np.median(before[:3])) / reach, 0.0)
        fall = min(float(np.median(behind[-3:]) - end) / reach, 0.0)
        from scipy.interpolate import CubicHermiteSpline  # slow to load; few rivers have a pool

        rows = np.array([first - 1.0, float(after)])
        pool = CubicHermiteSpline(rows, [start, end], [rise, fall])(np.arange(first, after))
        deepened = np.maximum(scale[first:after], np.minimum(pool, deepest * start))
        filled[first:after] = np.minimum(deepened, max(limit, float(start), float(end)))
    return filled


def make_form(
    sections: Sections,
    wet: BoolArray,
    level: FloatArray,
    flow: FloatArray,
    settings: GroundSettings,
    stones: Stones | None = None,
) -> Form:
    """Return the form that carries `flow` under `level`.

    The friction slope is that of the energy line: the fall of the water less the gain of velocity
    head and less what eddies take where the water slows or quickens, found by repetition. The last
    closure is exact row by row, save in pools too still for it.

    Parameters
    ----------
    sections
        The channel's sections.
    wet
        What was wet at low water (rows, columns).
    level
        Low water at each row [m].
    flow
        Discharge of each row [m3/s].
    settings
        Of the stage.
    stones
        Of the bed, where they hold shallow water back.
    """
    line, width = sections.channel.line, sections.channel.width
    sigma = sections.channel.median_width / 4 / line.step
    curve = gaussian_filter1d(line.curvatures, 2 * sigma, mode="nearest")
    lag = settings.bend_lag_widths * sections.channel.median_width / line.step
    rules, exponent = settings.form, settings.form_exponent
    lean = bend_lean(curve, width, settings.bend_strength, lag, rules.lean_high)
    shape = section_shape(wet, sections.offset, lean, exponent, rules.narrow_power)
    roughness = np.full(shape.shape, settings.channel_roughness)
    mean_slope = max((level[0] - level[-1]) / line.length, 1e-5)
    floor = settings.slope_floor * mean_slope
    area = shape.sum(axis=1) * sections.spacing
    head = np.zeros(len(level))
    slope = raw = np.full(len(level), mean_slope)
    for _ in range(ENERGY_ROUNDS):
        gain = np.gradient(smoothed_along(head, sigma), line.station)
        # Losing velocity head (gain < 0) is widening, where eddies take more.
        lost = np.where(gain < 0, rules.widening_loss, rules.narrowing_loss) * np.abs(gain)
        raw = -np.gradient(smoothed_along(level, sigma), line.station) - gain - lost
        slope = np.maximum(raw, floor)
        scale = closing_depth(shape, roughness, slope, flow, sections.spacing, stones)
        speed = flow / np.maximum(area * np.nan_to_num(scale), 1e-6)
        fresh = np.where(area > 0, np.minimum(speed**2 / (2 * GRAVITY), rules.head_high_m), 0.0)
        # Half a step: depth sets speed, speed slope, and slope depth; whole steps go to and fro.
        head = 0.5 * head + 0.5 * fresh
    scale = through_pools(
        np.nan_to_num(scale),
        raw < floor,
        int(2 * sigma) + 1,
        deepest=rules.deepest,
        most=settings.pool_most,
    )
    depth = scale[:, None] * shape
    level_lean = np.zeros(len(lean))
    upright = section_shape(wet, sections.offset, level_lean, exponent, rules.narrow_power)
    return Form(depth, depth - scale[:, None] * upright, slope)
