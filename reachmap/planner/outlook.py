"""The flow hour by hour: as read, as forecast, and where there is no forecast as the river falls.

What comes after a reading on a rising limb nobody knows: no law of falling says when it peaks.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import CodeArray, FloatArray
from reachmap.gauge.daily_course import DailyCourse
from reachmap.gauge.recession import LEADS, FallLaw, fallen
from reachmap.gauge.record import STEADY_SHARE, Trend, trend_at
from reachmap.gauge.series import DAY, HOUR, Series, Times, flow_on, gap_hours, hours_between


class Source(StrEnum):
    """Where an hour's flow comes from."""

    READ = "read"
    FORECAST = "forecast"
    FALL = "fall"
    UNKNOWN = "unknown"


CODES = {Source.UNKNOWN: 0, Source.READ: 1, Source.FORECAST: 2, Source.FALL: 3}
"""How sources stand in arrays."""


@dataclass(frozen=True, slots=True)
class OutlookSettings:
    """How far ahead is looked, and how much each source is doubted."""

    back_days: float = 4.0
    """Days before now that are shown; our choice, 2-10."""
    read_doubt: float = 0.05
    """Share by which a reading may be off; our choice, 0.03-0.1: good gaugings lie within 5 per
    cent of a rating."""
    forecast_doubt: float = 0.10
    forecast_doubt_per_day: float = 0.10
    """Share by which a forecast may be off at its begin and more a day; our choice, 0.05-0.2: the
    file seldom says."""
    beyond: float = 1.1
    """From a flow higher than this times the highest fall on record nobody knows how the river
    falls; our choice, 1.0-1.3: high water falls quicker or slower than low water ever told."""
    lost_days: float = 5.0
    """After a last reading older than this the flow is unknown; our choice, 2-7."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """The flow on full hours (UTC): told, and the band it may lie in [m3/s]; NaN unknown.

    `source` holds `CODES`; `trend` is that of the last reading, `last` when it was read (NaT where
    nothing was), `law` what the fall rests on.
    """

    times: Times
    flow: FloatArray
    low: FloatArray
    high: FloatArray
    source: CodeArray
    now: np.datetime64
    last: np.datetime64
    trend: Trend
    law: FallLaw | None

    def within(self, begin: np.datetime64, end: np.datetime64) -> slice:
        """Return which hours lie from `begin` to `end`, both included."""
        first = int(np.searchsorted(self.times, begin))
        return slice(first, int(np.searchsorted(self.times, end, side="right")))


def make_outlook(
    record: Series,
    forecast: Series,
    *,
    now: np.datetime64,
    until: np.datetime64,
    law: FallLaw | None,
    settings: OutlookSettings | None = None,
    course: DailyCourse | None = None,
) -> Outlook:
    """Return the flow hour by hour from some days before now to `until`.

    Parameters
    ----------
    record
        Readings; those after `now` are left out, nobody has read them yet.
    forecast
        What was forecast; of use after the last reading only.
    now, until
        UTC.
    law
        How the river falls, for hours that nothing else covers; None where it is not known.
    settings
        The doubts.
    course
        The flow's own course within the day, which the river's own fall is told with; None for
        none.
    """
    asked = settings or OutlookSettings()
    seen = record.until(now).known
    last = seen.times[-1] if seen.times.size else np.datetime64("NaT")
    trend = trend_at(seen.times, seen.flow)
    if course is not None:  # a wave within the day is no limb: the means of whole days tell
        trend = _daily_trend(seen)
    begin = now - np.timedelta64(int(asked.back_days * 86_400), "s")
    times = hours_between(begin, until)
    flow = flow_on(record.until(now), times)
    source = np.where(np.isfinite(flow), CODES[Source.READ], CODES[Source.UNKNOWN])
    low, high = flow * (1 - asked.read_doubt), flow * (1 + asked.read_doubt)
    coming = forecast.known if np.isnat(last) else forecast.after(last).known
    parts = (
        (CODES[Source.FORECAST], _forecast(seen, coming, times, asked)),
        (CODES[Source.FALL], _fall(seen, coming, times, (law, trend, course), now, asked)),
    )
    for code, (told, below, above) in parts:
        fill = np.isnan(flow) & np.isfinite(told)
        fill &= times > last if not np.isnat(last) else fill
        flow, low, high = (
            np.where(fill, new, old) for new, old in ((told, flow), (below, low), (above, high))
        )
        source = np.where(fill, code, source)
    return Outlook(times, flow, low, high, source.astype(np.uint8), now, last, trend, law)


Band = tuple[FloatArray, FloatArray, FloatArray]
"""Flow told, lower and upper bound [m3/s]."""


def _forecast(seen: Series, coming: Series, times: Times, asked: OutlookSettings) -> Band:
    """Return what the forecast says; the last reading joins it where it is near enough in time."""
    if not coming.times.size:
        return _nothing(times)
    joined = coming
    if seen.times.size and coming.times[0] - seen.times[-1] <= gap_hours(coming) * HOUR:
        joined = Series(np.r_[seen.times[-1:], coming.times], np.r_[seen.flow[-1:], coming.flow])
    told = flow_on(joined, times)
    ahead = np.maximum((times - joined.times[0]) / DAY, 0.0)
    doubt = asked.forecast_doubt + asked.forecast_doubt_per_day * ahead
    return told, told * np.maximum(1 - doubt, 0.0), told * (1 + doubt)


def _fall(
    seen: Series,
    coming: Series,
    times: Times,
    how: tuple[FallLaw | None, Trend, DailyCourse | None],
    now: np.datetime64,
    asked: OutlookSettings,
) -> Band:
    """Return how the river falls after the last reading, or after the forecast's end."""
    law, trend, course = how
    start, known_at = seen, seen
    if coming.times.size:
        trend, start = trend_at(coming.times, coming.flow), coming
        course = None  # the forecast's own course counts
        known_at = coming.until(max(now, coming.times[0]))
    if law is None or not start.times.size or trend in (Trend.RISING, Trend.UNKNOWN):
        return _nothing(times)
    begin, flow = start.times[-1], float(start.flow[-1])
    within = np.ones(times.shape)
    if course is not None:  # from the mean of the day the last reading belongs to, and back
        flow /= float(course.at(start.times[-1:])[0])
        within = course.at(times)
    if now - begin > asked.lost_days * DAY or flow > law.highest * asked.beyond:
        return _nothing(times)
    days = (times - begin) / DAY
    days = np.where(days >= 0, days, np.nan)
    told = np.maximum(fallen(law, flow, days), min(law.floor, flow)) * within
    leads = np.arange(LEADS + 1.0)
    below, above = (
        np.interp(np.nan_to_num(days), leads, np.r_[0.0, side]) for side in (law.low, law.high)
    )
    base = asked.read_doubt
    if start is not seen:  # the forecast it starts from is doubted itself
        base = asked.forecast_doubt + asked.forecast_doubt_per_day * float(
            (begin - known_at.times[0]) / DAY
        )
    beyond = np.where(days > LEADS, np.nan, 1.0)
    return (
        told * beyond,
        told * np.exp(below) * max(1 - base, 0.0) * beyond,
        told * np.exp(above) * (1 + base) * beyond,
    )


def _daily_trend(seen: Series) -> Trend:
    """Return the trend of the last two days' means."""
    last = seen.times[-1]
    late, early = (
        seen.flow[(seen.times > last - days * DAY) & (seen.times <= last - (days - 1) * DAY)]
        for days in (1, 2)
    )
    if not late.size or not early.size:
        return Trend.UNKNOWN
    change = float(late.mean() / early.mean()) - 1
    if abs(change) < STEADY_SHARE:
        return Trend.STEADY
    return Trend.RISING if change > 0 else Trend.FALLING


def _nothing(times: Times) -> Band:
    """Return a band of which nothing is known."""
    blank = np.full(times.shape, np.nan)
    return blank, blank, blank
