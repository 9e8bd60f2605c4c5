"""Readings of a gauge's record: the last one, its trend, and the flow at a time or stage."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.gauge.model import Gauge
from reachmap.gauge.shift import shifted
from reachmap.gauge.stage_flow import flow_from_stage

TREND_HOURS = 6.0
"""Time over which a trend is judged [h]; our choice, range 3-24."""

STEADY_SHARE = 0.03
"""A smaller relative change over the trend's hours counts as steady; our choice, 0.01-0.05:
a rating is seldom better than a few per cent."""


GAP_HOURS = 6.0
"""Longest gap bridged by interpolation [h]; our choice, range 1-24: a storm
rises within hours."""


LONGEST_BACK_HOURS = 25.0
"""Longest look-back of a trend [h]: a day, and one hour at the end of summer time (daily means)."""


class Trend(StrEnum):
    """Trend of the flow."""

    RISING = "rising"
    STEADY = "steady"
    FALLING = "falling"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class LastReading:
    """The newest flow of a record [m3/s], when it was read (UTC) and the trend up to it."""

    flow: float
    when: np.datetime64
    trend: Trend


def last_reading(gauge: Gauge) -> LastReading | None:
    """Return the newest reading with a value; None where the record has none."""
    known = np.isfinite(gauge.flow)
    if not known.any():
        return None
    times, flow = gauge.times[known], gauge.flow[known]
    return LastReading(float(flow[-1]), times[-1], trend_at(times, flow))


def trend_at(times: np.ndarray[tuple[int], np.dtype[np.datetime64]], flow: FloatArray) -> Trend:
    """Return the trend up to the last reading; unknown where no earlier reading allows one.

    Parameters
    ----------
    times
        UTC, ascending.
        flow
            Readings without gaps [m3/s].
    """
    if not times.size:
        return Trend.UNKNOWN
    hours = (times - times[-1]) / np.timedelta64(3600, "s")
    before = np.flatnonzero(hours <= -TREND_HOURS)
    if before.size == 0 or hours[before[-1]] < -LONGEST_BACK_HOURS:
        return Trend.UNKNOWN
    change = flow[-1] / flow[before[-1]] - 1 if flow[before[-1]] > 0 else np.inf
    if abs(change) < STEADY_SHARE:
        return Trend.STEADY
    return Trend.RISING if change > 0 else Trend.FALLING


def flow_of_stage(gauge: Gauge, stage_m: float) -> float:
    """Return the flow of a gauge height [m3/s] by the rating and the shift in force; NaN beyond it.

    Parameters
    ----------
    gauge
        The gauge; without a rating the flow is NaN.
    stage_m
        Height above the gauge's zero [m].
    """
    stage = shifted(np.array([stage_m]), gauge.shift)
    return float(flow_from_stage(gauge.segments, stage)[0])


def nearest_flow(flow: float, mapped: FloatArray) -> int:
    """Return the index of the mapped flow nearest in logarithm to `flow`; mapped is > 0 [m3/s]."""
    return int(np.argmin(np.abs(np.log(mapped / flow))))


def flow_at(gauge: Gauge, when: np.datetime64) -> float:
    """Return the flow at a time [m3/s], interpolated linearly; NaN outside or in a long gap.

    Parameters
    ----------
    gauge
        Its record, times in UTC, rising.
    when
        UTC.
    """
    known = np.isfinite(gauge.flow)
    times, flow = gauge.times[known], gauge.flow[known]
    after = int(np.searchsorted(times, when))
    if after < times.size and times[after] == when:
        return float(flow[after])
    if after in (0, times.size):
        return float("nan")
    gap = (times[after] - times[after - 1]) / np.timedelta64(3600, "s")
    if gap > GAP_HOURS:
        return float("nan")
    share = (when - times[after - 1]) / (times[after] - times[after - 1])
    return float(flow[after - 1] + share * (flow[after] - flow[after - 1]))
