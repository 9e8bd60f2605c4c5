"""Storms of a record: start and peak of each rise, and the storm each hour belongs to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.gauge.recession import RISE_SHARE

PASSED_SHARE = 0.05
"""A peak has passed once the flow lies this share below it; our choice, 0.03-0.1: ratings vary by
a per cent or two."""


@dataclass(frozen=True, slots=True)
class Storm:
    """One rise of the river, as indices into the evenly spaced flow.

    Parameters
    ----------
    begin, peak
        Indices of the low point before it and of its highest flow.
    low, top
        The flows there [m3/s].
    passed
        Whether the flow has fallen below the peak since; False while it may still rise.
    last
        Last index known to lie on the rise: the peak, or where the record ends or has a gap.
    """

    begin: int
    peak: int
    low: float
    top: float
    passed: bool
    last: int


def storms_of(flow: FloatArray, ratio: float = RISE_SHARE) -> tuple[Storm, ...]:
    """Return the storms along an evenly spaced flow, in order of time.

    Parameters
    ----------
    flow
        Flow [m3/s], shape (n,), > 0; NaN ends a rise: a peak in a gap is unknown.
    ratio
        A rise to this multiple of the low point before it is a storm, > 1.
    """
    # A two-state machine: `low` runs down with the falling river until the flow stands at
    # `ratio` times it, then `top` runs up until the flow is `PASSED_SHARE` below it.
    found: list[Storm] = []
    low, low_at, top, top_at, rises = np.inf, 0, 0.0, 0, False
    for at, now in enumerate(flow.tolist()):
        if now != now:
            if rises:
                found.append(Storm(low_at, top_at, low, top, passed=False, last=at - 1))
            low, rises = np.inf, False
        elif rises and now > top:
            top, top_at = now, at
        elif rises and now < top * (1 - PASSED_SHARE):
            found.append(Storm(low_at, top_at, low, top, passed=True, last=top_at))
            low, low_at, rises = now, at, False
        elif not rises and now <= low:
            low, low_at = now, at
        elif not rises and now >= ratio * low:
            top, top_at, rises = now, at, True
    if rises:
        found.append(Storm(low_at, top_at, low, top, passed=False, last=flow.size - 1))
    return tuple(found)


def storm_numbers(count: int, storms: tuple[Storm, ...]) -> IntArray:
    """Return the number of the storm each of `count` grid points belongs to, -1 before the first.

    A storm lasts from its low point to that of the next.
    """
    begins = np.array([storm.begin for storm in storms], dtype=np.int64)
    return np.asarray(np.searchsorted(begins, np.arange(count), side="right") - 1)


def with_ends(storms: tuple[Storm, ...], count: int) -> list[tuple[Storm, int]]:
    """Return each storm with the index at which the next begins, or `count` for the last."""
    ends = [*(storm.begin for storm in storms), count][1:]
    return list(zip(storms, ends, strict=True)) if storms else []


def days_since_peak(flow: FloatArray, per_day: int) -> FloatArray:
    """Return the days since the last peak at each grid point [d], shape (n,).

    Parameters
    ----------
    flow
        Evenly spaced flow [m3/s], shape (n,).
    per_day
        Grid points a day.

    Notes
    -----
    NaN before the first peak, and on a rise from its low point to its peak.
    """
    since = np.full(flow.shape, np.nan)
    for storm, end in with_ends(storms_of(flow), flow.size):
        if storm.passed:
            since[storm.peak : end] = np.arange(end - storm.peak) / per_day
    since[np.isnan(flow)] = np.nan
    return since
