"""Readings in time laid on an even grid, with gaps left as gaps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.gauge.record import GAP_HOURS

Times: TypeAlias = np.ndarray[tuple[int], np.dtype[np.datetime64]]
"""UTC instants, datetime64[s], rising."""

HOUR = np.timedelta64(3600, "s")
DAY = np.timedelta64(86_400, "s")


@dataclass(frozen=True, slots=True)
class Series:
    """Flow [m3/s] at UTC instants that rise; NaN where nobody knows it."""

    times: Times
    flow: FloatArray

    def __post_init__(self) -> None:
        """Refuse what no later step could use."""
        if self.times.shape != self.flow.shape:
            msg = "times and flow differ in length"
            raise ValueError(msg)
        if self.times.size > 1 and not (np.diff(self.times) > np.timedelta64(0, "s")).all():
            msg = "times do not rise"
            raise ValueError(msg)

    @property
    def known(self) -> Series:
        """Return the readings that are numbers above zero."""
        good = np.isfinite(self.flow) & (self.flow > 0)
        return Series(self.times[good], self.flow[good])

    def until(self, end: np.datetime64) -> Series:
        """Return the readings up to an instant, that one included."""
        last = int(np.searchsorted(self.times, end, side="right"))
        return Series(self.times[:last], self.flow[:last])

    def after(self, begin: np.datetime64) -> Series:
        """Return the readings later than an instant."""
        first = int(np.searchsorted(self.times, begin, side="right"))
        return Series(self.times[first:], self.flow[first:])


NOTHING = Series(np.empty(0, dtype="datetime64[s]"), np.empty(0))
"""A series without a reading."""


def spacing_hours(series: Series) -> float:
    """Return the usual time between readings [h]; NaN with fewer than two."""
    if series.times.size < 2:
        return float("nan")
    return float(np.median(np.diff(series.times) / HOUR))


def gap_hours(series: Series) -> float:
    """Return between readings how far apart nobody knows the flow [h].

    `GAP_HOURS`, or a time and a half the usual spacing of a record that is coarser, such as means
    of days.
    """
    usual = spacing_hours(series)
    return GAP_HOURS if np.isnan(usual) else max(GAP_HOURS, 1.5 * usual)


def flow_on(series: Series, times: Times) -> FloatArray:
    """Return the flow at instants [m3/s], linear between readings; NaN outside and in gaps.

    Parameters
    ----------
    series
        The readings.
    times
        UTC, shape (n,).
    """
    known = series.known
    if not known.times.size:
        return np.full(times.shape, np.nan)
    begin = known.times[0]
    seconds = (known.times - begin) / np.timedelta64(1, "s")
    asked = (times - begin) / np.timedelta64(1, "s")
    found = np.interp(asked, seconds, known.flow, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(seconds, asked), 0, seconds.size - 1)
    before = np.maximum(after - 1, 0)
    apart = np.where(seconds[after] == asked, 0.0, seconds[after] - seconds[before]) / 3600
    return np.where(apart > gap_hours(series), np.nan, found)


def hours_between(begin: np.datetime64, end: np.datetime64) -> Times:
    """Return full hours from `begin` on, to the last not after `end` (UTC)."""
    first = begin.astype("datetime64[h]").astype("datetime64[s]")
    count = int((end - first) / HOUR) + 1
    return np.asarray(first + np.arange(max(count, 0)) * HOUR)
