"""Time series of readings and their interpolation; long gaps stay gaps."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.gauge.record import GAP_HOURS

Times: TypeAlias = np.ndarray[tuple[int], np.dtype[np.datetime64]]
"""UTC instants, datetime64[s], rising."""

HOUR = np.timedelta64(3600, "s")
DAY = np.timedelta64(86_400, "s")


@dataclass(frozen=True)  # no slots: properties that need a pass over a long record are cached
class Series:
    """Flow [m3/s] at ascending UTC instants; NaN where unknown. The arrays must not be changed."""

    times: Times
    flow: FloatArray

    def __post_init__(self) -> None:
        """Raise ValueError for arrays of unlike shape or times out of order."""
        if self.times.shape != self.flow.shape:
            msg = "times and flow differ in length"
            raise ValueError(msg)
        if self.times.size > 1 and not (np.diff(self.times) > np.timedelta64(0, "s")).all():
            msg = "times do not rise"
            raise ValueError(msg)

    @cached_property
    def known(self) -> Series:
        """Return the readings that are numbers above zero."""
        good = np.isfinite(self.flow) & (self.flow > 0)
        return self if good.all() else Series(self.times[good], self.flow[good])

    @cached_property
    def spacing(self) -> float:
        """Return the usual time between readings [h]; NaN with fewer than two."""
        if self.times.size < 2:
            return float("nan")
        return float(np.median(np.diff(self.times) / HOUR))

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
    return series.spacing


def gap_hours(series: Series) -> float:
    """Return the longest gap bridged by interpolation [h].

    `GAP_HOURS`, or one and a half times the usual spacing of a coarser record, such as daily
    means.
    """
    usual = spacing_hours(series)
    return GAP_HOURS if np.isnan(usual) else max(GAP_HOURS, 1.5 * usual)


def flow_on(series: Series, times: Times) -> FloatArray:
    """Return the flow at instants [m3/s], interpolated linearly; NaN outside and in gaps.

    Parameters
    ----------
    series
        The readings.
    times
        UTC, shape (n,).
    """
    known = series.known
    if not known.times.size or np.isnat(times).all():
        return np.full(times.shape, np.nan)
    begin = known.times[0]
    near = _about(known.times, times)
    seconds = (known.times[near] - begin) / np.timedelta64(1, "s")
    wanted = (times - begin) / np.timedelta64(1, "s")
    found = np.interp(wanted, seconds, known.flow[near], left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(seconds, wanted), 0, seconds.size - 1)
    before = np.maximum(after - 1, 0)
    apart = np.where(seconds[after] == wanted, 0.0, seconds[after] - seconds[before]) / 3600
    return np.where(apart > gap_hours(series), np.nan, found)


def _about(known: Times, wanted: Times) -> slice:
    """Return the slice of known instants that spans the wanted ones, one more on each side."""
    valid = wanted[~np.isnat(wanted)]
    first = int(np.searchsorted(known, valid.min())) - 1
    last = int(np.searchsorted(known, valid.max(), side="right")) + 1
    first = min(max(first, 0), known.size - 1)
    return slice(first, max(last, first + 1))


def hours_between(begin: np.datetime64, end: np.datetime64) -> Times:
    """Return full hours (UTC) from the one that holds `begin` to the last not after `end`."""
    first = begin.astype("datetime64[h]").astype("datetime64[s]")
    count = int((end - first) / HOUR) + 1
    return np.asarray(first + np.arange(max(count, 0)) * HOUR)
