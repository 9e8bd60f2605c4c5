"""Evaluation of swings: the share of the strip swum at the wanted depth and pace."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reachmap.angler._kernels_swing import HANGS, TIMEOUT, UNKNOWN
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.swing import LEAVES, Current, Swings, across_speed, touching
from reachmap.base.arrays import BoolArray, FloatArray, IntArray

TRACK = ("t", "x", "y", "depth", "pace_quality", "depth_quality", "inside")
"""Columns of a judged track: seconds after landing, place [m], depth of the fly [m], how well pace
and depth are as wanted (0 to 1), and 1 where the fly is over its strip."""


@dataclass(frozen=True, slots=True)
class Judged:
    """Results of swings, arrays of shape (n,); NaN where the fly never swam in its strip.

    `seconds` to the end; `pace` of the fly across the current [m/s], its `depth` and `above` the
    bed [m] and the `share` of the water's depth, means over the strip as it is crossed; `swim_s`
    seconds in it, `zone_s` those at the wanted pace; `slows_s` when it first slows into that pace;
    `wait_s` from the floating line hanging straight to the fly doing so; `widest` the largest part
    of a step down the river that lies between two arcs (0 to 1); `pull` the mean pull at the rod
    [N]. Shares of the strip: `covered` swum at all, `in_depth`, `in_pace` and `in_bands` swum at
    the wanted depth, pace, and both; `quality` the same by degrees. `drag` and `tick` are shares of
    the time in the strip on the bottom: before its last part, and in it. `touches`: either. `end`
    codes of `ENDS`.
    """

    seconds: FloatArray
    pace: FloatArray
    depth: FloatArray
    above: FloatArray
    share: FloatArray
    swim_s: FloatArray
    zone_s: FloatArray
    slows_s: FloatArray
    wait_s: FloatArray
    widest: FloatArray
    pull: FloatArray
    covered: FloatArray
    in_depth: FloatArray
    in_pace: FloatArray
    in_bands: FloatArray
    quality: FloatArray
    drag: FloatArray
    tick: FloatArray
    touches: BoolArray
    end: IntArray


def pace_quality(pace_m_s: FloatArray, wanted: tuple[float, float], none: FloatArray) -> FloatArray:
    """Return how well paces across the current are as wanted: 1 between the two limits.

    Falls in a straight line to 0 at `none`, the slowest and quickest that are worth nothing.
    """
    return np.nan_to_num(np.interp(pace_m_s, [none[0], *wanted, none[1]], [0.0, 1.0, 1.0, 0.0]))


def depth_quality(
    share: FloatArray, wanted: tuple[float, float], bottom_quality: float
) -> FloatArray:
    """Return how well depths, as shares of the water's, are as wanted: 1 between the limits.

    Falls in a straight line to 0 at half the least wanted depth, and to `bottom_quality` at the
    bed; unknown is 0.
    """
    stops = [0.5 * wanted[0], *wanted, 1.0]
    return np.nan_to_num(np.interp(share, stops, [0.0, 1.0, 1.0, bottom_quality]))


def judge(
    swings: Swings,
    current: Current,
    inside: BoolArray,
    width_m: FloatArray,
    settings: AnglerSettings,
    pace: tuple[float, float],
) -> tuple[Judged, FloatArray]:
    """Return the results of swings, and their tracks: columns `TRACK`, shape (n, records, 7).

    Parameters
    ----------
    swings, current
        The swings and their field.
    inside
        Whether the fly is over its strip, shape (n, records).
    width_m
        Width of the strip [m], shape (n,).
    settings
        Angles that end a swing; time between records; the bands.
    pace
        Slowest and quickest wanted speed across the current [m/s].

    Notes
    -----
    Shares are ways across the current over the strip's width, or over the whole way across it where
    that is more: a strip crossed for half its width in the bands counts one half, and lingering in
    a good spot counts no more than passing it.
    """
    step, swing, plan = settings.line.record_s, settings.swing, settings.plan
    across = across_speed(swings, current)
    fly, water = np.maximum(-swings.column("z"), 0.0), swings.column("depth")
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(water > swing.share_depth_low_m, fly / water, np.nan)
        at_pace = inside & (across >= pace[0]) & (across <= pace[1])
        slow = inside & (across <= pace[1])
        at_depth = (share >= swing.depth_share_low) & (share <= swing.depth_share_high)
        straight = swings.column("bend") <= np.radians(swing.hang_deg)
    stops = np.array([swing.stall_m_s, plan.pace_fade * pace[1]])
    good_pace = pace_quality(across, pace, stops)
    good_depth = depth_quality(
        share, (swing.depth_share_low, swing.depth_share_high), plan.bottom_quality
    )
    way = np.where(inside, np.nan_to_num(across) * step, 0.0)
    whole = np.maximum(np.cumsum(way, axis=1)[:, -1], np.maximum(width_m, 1e-6))

    def part(weight: NDArray[Any]) -> FloatArray:
        return np.asarray((way * weight).sum(axis=1) / whole)

    times = swings.column("t")
    seconds, end = _ended(swings, inside, times)
    swum = inside.any(axis=1)
    drag, tick = _touched(swings, inside, settings)
    judged = Judged(
        seconds=seconds,
        pace=_mean(across, inside),
        depth=_mean(fly, inside, way),
        above=_mean(np.maximum(water - fly, 0.0), inside, way),
        share=_mean(share, inside, way),
        swim_s=np.where(swings.end == UNKNOWN, np.nan, inside.sum(axis=1) * step),
        zone_s=np.where(swum, at_pace.sum(axis=1) * step, np.nan),
        slows_s=_first(times, slow),
        wait_s=np.where(
            swings.end == HANGS, np.maximum(swings.seconds - _first(times, straight), 0.0), np.nan
        ),
        widest=_widest(swings, across, inside),
        pull=_mean(swings.column("pull"), inside),
        covered=part(1.0 * inside),
        in_depth=part(at_depth),
        in_pace=part(at_pace),
        in_bands=part(at_depth & at_pace),
        quality=part(good_pace * good_depth),
        drag=drag,
        tick=tick,
        touches=np.asarray((drag > 0) | (tick > 0)),
        end=end,
    )
    known = np.isfinite(times)
    track = np.stack(
        [times, swings.column("x"), swings.column("y"), fly]
        + [np.where(known, one, np.nan) for one in (good_pace, good_depth, 1.0 * inside)],
        axis=-1,
    )
    return judged, track


def swing_worth(judged: Judged, settings: AnglerSettings) -> FloatArray:
    """Return the worth of swings, in shares of the strip; minus infinity where none was swum.

    The share of the strip swum in both bands, and that by degrees, half and half: the first is what
    is wanted, the second separates two swings that both miss it. Less what touching costs: a tick
    of the bottom in the last part little, dragging through the strip much. A swing that meets
    unknown water costs `blind_cost`.
    """
    plan = settings.plan
    worth = (
        0.5 * (judged.in_bands + judged.quality)
        - plan.drag_cost * judged.drag
        - plan.tick_cost * judged.tick
    )
    worth = worth - plan.blind_cost * (judged.end == UNKNOWN)
    return np.where(np.isfinite(judged.pace), worth, -np.inf)


def _touched(
    swings: Swings, inside: BoolArray, settings: AnglerSettings
) -> tuple[FloatArray, FloatArray]:
    """Return the shares of the time in the strip on the bottom: before its last part, and in it."""
    on_bed = touching(swings, settings.line.touch_m) & inside
    count = np.maximum(inside.sum(axis=1), 1)
    so_far = np.cumsum(inside, axis=1) / count[:, None]
    late = so_far > 1.0 - settings.plan.last_share
    return (on_bed & ~late).sum(axis=1) / count, (on_bed & late).sum(axis=1) / count


def _widest(swings: Swings, across: FloatArray, inside: BoolArray) -> FloatArray:
    """Return the largest sine between the fly's way over the strip and the current, 0 to 1.

    Two swings a step apart down the current lie that much of the step apart.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        sine = np.minimum(across / swings.column("speed"), 1.0)
    found = np.where(inside & np.isfinite(sine), sine, -1.0).max(axis=1)
    return np.where(found >= 0, found, np.nan)


def _ended(swings: Swings, inside: BoolArray, times: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the seconds of swings and how they end.

    A swing that outlasts the longest time is over when its fly leaves the swing water.
    """
    last = inside.shape[1] - 1 - inside[:, ::-1].argmax(axis=1)
    gone = (swings.end == TIMEOUT) & inside.any(axis=1) & (last < swings.counts - 1)
    out = np.where(gone, times[np.arange(len(times)), last], swings.seconds)
    return out, np.where(gone, LEAVES, swings.end).astype(np.int32)


def _first(times: FloatArray, mask: BoolArray) -> FloatArray:
    """Return the time of the first record under a mask, row by row; NaN where there is none."""
    when = times[np.arange(len(times)), mask.argmax(axis=1)]
    return np.where(mask.any(axis=1), when, np.nan)


def _mean(values: FloatArray, mask: BoolArray, weight: FloatArray | float = 1.0) -> FloatArray:
    """Return the mean of the known values under a mask, row by row; NaN where there is none."""
    heavy = np.where(mask & np.isfinite(values), weight, 0.0)
    total = heavy.sum(axis=1)
    whole = (np.nan_to_num(values) * heavy).sum(axis=1)
    return np.where(total > 0, whole / np.maximum(total, 1e-12), np.nan)
