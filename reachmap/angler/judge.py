"""What a swing did: its time, the pace and depth of the fly in its water, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.angler._kernels_swing import HANGS, TIMEOUT, UNKNOWN
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.swing import LEAVES, Current, Swings, across_speed, touching
from reachmap.base.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Judged:
    """What swings did, arrays of shape (n,); NaN where the fly never swam in the swing water.

    `seconds` to the end; `pace` of the fly across the current, `depth` of the fly and its `share`
    of the water's depth, means while in the swing water; `swim_s` seconds there, `zone_s` those at
    the wanted pace;
    `slows_s` when it first slows into that pace; `wait_s` from the floating line hanging straight
    to the fly doing so; `touches` whether it touches bottom in the swing water; `end` codes of
    `ENDS`.
    """

    seconds: FloatArray
    pace: FloatArray
    depth: FloatArray
    share: FloatArray
    swim_s: FloatArray
    zone_s: FloatArray
    slows_s: FloatArray
    wait_s: FloatArray
    touches: BoolArray
    end: IntArray


def judge(
    swings: Swings,
    current: Current,
    inside: BoolArray,
    settings: AnglerSettings,
    pace: tuple[float, float],
) -> Judged:
    """Return what swings did.

    Parameters
    ----------
    swings, current
        The swings and their field.
    inside
        Whether the fly is over the swing water, shape (n, records).
    settings
        Angles that end a swing; time between records.
    pace
        Slowest and quickest wanted speed across the current [m/s].
    """
    step = settings.line.record_s
    across = across_speed(swings, current)
    fly, water = -swings.column("z"), swings.column("depth")
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(water > settings.swing.share_depth_low_m, fly / water, np.nan)
        wanted = inside & (across >= pace[0]) & (across <= pace[1])
        slow = inside & (across <= pace[1])
        straight = swings.column("bend") <= np.radians(settings.swing.hang_deg)
    times = swings.column("t")
    seconds, end = _ended(swings, inside, times)
    return Judged(
        seconds=seconds,
        pace=_mean(across, inside),
        depth=_mean(fly, inside),
        share=_mean(share, inside),
        swim_s=np.where(swings.end == UNKNOWN, np.nan, inside.sum(axis=1) * step),
        zone_s=np.where(inside.any(axis=1), wanted.sum(axis=1) * step, np.nan),
        slows_s=_first(times, slow),
        wait_s=np.where(
            swings.end == HANGS, np.maximum(swings.seconds - _first(times, straight), 0.0), np.nan
        ),
        touches=np.asarray((touching(swings, settings.line.touch_m) & inside).any(axis=1)),
        end=end,
    )


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


def _mean(values: FloatArray, mask: BoolArray) -> FloatArray:
    """Return the mean of the known values under a mask, row by row; NaN where there is none."""
    use = mask & np.isfinite(values)
    count = use.sum(axis=1)
    total = np.where(use, values, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
