"""Time since the last rise: days since the peak, and since the river came into shape again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.series import DAY, HOUR, Series, Times, flow_on, hours_between
from reachmap.gauge.storms import days_since_peak, storms_of, with_ends
from reachmap.planner.outlook import Outlook

BACK_DAYS = 30
"""How far back a rise is looked for [d]; our choice, 14-60: after that the river has settled."""

FRESH_DAYS = 2.0
"""How long the river is fresh after it came into shape again [d]; our choice, 1-4."""


class Phase(StrEnum):
    """State of the river between two rises."""

    UNKNOWN = "unknown"
    RISING = "rising"
    HIGH = "high"
    FRESH = "fresh"
    DROPPING = "dropping"
    SETTLED = "settled"


@dataclass(frozen=True, slots=True)
class Fresh:
    """Hours (UTC) from before now to the outlook's end, and the time since the rise at each.

    Parameters
    ----------
    times
        Full hours.
    since_peak
        Days since the last peak [d]; NaN on a rise and where none is known.
    since_fishable
        Days since the river came into shape again after it [d]; NaN before that and where no rise
        is known.
    rising
        Whether the hour is on a rise of a quarter or more.
    """

    times: Times
    since_peak: FloatArray
    since_fishable: FloatArray
    rising: BoolArray

    def at(self, times: Times) -> Fresh:
        """Return the values at some of its hours."""
        index = np.searchsorted(self.times, times)
        return Fresh(times, self.since_peak[index], self.since_fishable[index], self.rising[index])


def freshness(
    outlook: Outlook, record: Series, fishable: Callable[[FloatArray], BoolArray]
) -> Fresh:
    """Return the time since the last rise at each hour of the outlook.

    Parameters
    ----------
    outlook
        The flow, read and to come.
    record
        Readings up to now.
    fishable
        Returns the mask of flows [m3/s] at which the river is in shape on a fall.

    Notes
    -----
    A rise that never took the river out of shape leaves it fishable from its peak on.
    """
    first = outlook.now - BACK_DAYS * DAY
    before = hours_between(first + HOUR - np.timedelta64(1, "s"), outlook.times[0] - HOUR)
    times = np.r_[before, outlook.times]
    flow = np.r_[flow_on(record, before), outlook.flow]
    since_peak = days_since_peak(flow, 24)
    good = fishable(flow)
    since = np.full(times.shape, np.nan)
    rising = np.zeros(times.shape, dtype=bool)
    for storm, end in with_ends(storms_of(flow), flow.size):
        rising[storm.begin + 1 : storm.last + (not storm.passed)] = True
        again = np.flatnonzero(good[storm.peak : end]) if storm.passed else np.empty(0, int)
        if again.size:
            begin = storm.peak + int(again[0])
            since[begin:end] = np.arange(end - begin) / 24
    return Fresh(times, since_peak, since, rising)


def phase_of(
    since_peak: float, since_fishable: float, growth: float, *, rising: bool, falling: float
) -> Phase:
    """Return the state of the river.

    Parameters
    ----------
    since_peak, since_fishable
        As of `Fresh` [d].
    growth
        Growth of ln flow [1/d]; NaN unknown.
    rising
        Whether the hour is on a rise.
    falling
        Loss of ln flow a day from which it counts as dropping [1/d].
    """
    if np.isnan(growth):
        return Phase.UNKNOWN
    if rising:
        return Phase.RISING
    if np.isfinite(since_peak) and np.isnan(since_fishable):
        return Phase.HIGH
    if since_fishable <= FRESH_DAYS:
        return Phase.FRESH
    return Phase.DROPPING if growth < -falling else Phase.SETTLED
