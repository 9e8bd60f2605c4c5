"""The flow hour by hour: as read, as forecast, and without a forecast by the river's recession.

After a last reading on a rising limb the flow is unknown: a recession does not give the peak.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import CodeArray, FloatArray
from reachmap.gauge.daily_course import DailyCourse
from reachmap.gauge.recession import LEADS, RecessionLaw, recession_flow
from reachmap.gauge.record import STEADY_SHARE, Trend, trend_at
from reachmap.gauge.series import DAY, HOUR, Series, Times, flow_on, gap_hours, hours_between


class Source(StrEnum):
    """Where an hour's flow comes from."""

    READ = "read"
    FORECAST = "forecast"
    FALL = "fall"
    UNKNOWN = "unknown"


CODES = {Source.UNKNOWN: 0, Source.READ: 1, Source.FORECAST: 2, Source.FALL: 3}
"""Codes of the sources in arrays."""


@dataclass(frozen=True, slots=True)
class OutlookSettings:
    """How far back and ahead the outlook goes, and the error of each source."""

    back_days: float = 4.0
    """Days before now that are shown; our choice, 2-10."""
    read_error: float = 0.05
    """Error of a reading as a share; our choice, 0.03-0.1: good gaugings lie within 5 per cent of a
    rating."""
    forecast_error: float = 0.10
    forecast_error_per_day: float = 0.10
    """Error of a forecast as a share at its begin, and its growth a day; our choice, 0.05-0.2: the
    files seldom give it."""
    beyond: float = 1.1
    """The recession holds up to this times the highest fall on record; our choice, 1.0-1.3: high
    water may fall quicker or slower than any lower water did."""
    lost_days: float = 5.0
    """After a last reading older than this the flow is unknown; our choice, 2-7."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """The flow on full hours (UTC): central value and band [m3/s]; NaN unknown.

    `source` holds `CODES`; `trend` is that of the last reading, `last` its time (NaT without a
    reading), `law` the recession law.
    """

    times: Times
    flow: FloatArray
    low: FloatArray
    high: FloatArray
    source: CodeArray
    now: np.datetime64
    last: np.datetime64
    trend: Trend
    law: RecessionLaw | None

    def within(self, begin: np.datetime64, end: np.datetime64) -> slice:
        """Return the slice of hours from `begin` to `end`, both included."""
        first = int(np.searchsorted(self.times, begin))
        return slice(first, int(np.searchsorted(self.times, end, side="right")))


def make_outlook(
    record: Series,
    forecast: Series,
    *,
    now: np.datetime64,
    until: np.datetime64,
    law: RecessionLaw | None,
    settings: OutlookSettings | None = None,
    course: DailyCourse | None = None,
) -> Outlook:
    """Return the flow hour by hour from some days before now to `until`.

    Parameters
    ----------
    record
        Readings; those after `now` are left out.
    forecast
        Forecast flows; used after the last reading only.
    now, until
        UTC.
    law
        Recession law, for hours without reading or forecast; None where it is not known.
    settings
        None for the defaults.
    course
        Daily wave of the flow, laid over the recession; None for none.
    """
    settings = settings or OutlookSettings()
    seen = record.until(now).known
    last = seen.times[-1] if seen.times.size else np.datetime64("NaT", "s")
    trend = trend_at(seen.times, seen.flow)
    if course is not None:  # a daily wave is no limb: the trend is that of daily means
        trend = _daily_trend(seen)
    begin = now - np.timedelta64(int(settings.back_days * 86_400), "s")
    times = hours_between(begin, until)
    flow = flow_on(record.until(now), times)
    source = np.where(np.isfinite(flow), CODES[Source.READ], CODES[Source.UNKNOWN])
    low, high = flow * (1 - settings.read_error), flow * (1 + settings.read_error)
    coming = forecast.known if np.isnat(last) else forecast.after(last).known
    parts = (
        (CODES[Source.FORECAST], _forecast(seen, coming, times, settings)),
        (CODES[Source.FALL], _fall(seen, coming, times, (law, trend, course), now, settings)),
    )
    for code, (central, below, above) in parts:
        fill = np.isnan(flow) & np.isfinite(central)
        fill &= times > last if not np.isnat(last) else fill
        flow, low, high = (
            np.where(fill, new, old) for new, old in ((central, flow), (below, low), (above, high))
        )
        source = np.where(fill, code, source)
    return Outlook(times, flow, low, high, source.astype(np.uint8), now, last, trend, law)


Band = tuple[FloatArray, FloatArray, FloatArray]
"""Central flow, lower and upper bound [m3/s]."""


def _forecast(seen: Series, coming: Series, times: Times, settings: OutlookSettings) -> Band:
    """Return the forecast with its band, joined to the last reading across a short gap."""
    if not coming.times.size:
        return _nothing(times)
    joined = coming
    if seen.times.size and coming.times[0] - seen.times[-1] <= gap_hours(coming) * HOUR:
        joined = Series(np.r_[seen.times[-1:], coming.times], np.r_[seen.flow[-1:], coming.flow])
    central = flow_on(joined, times)
    ahead = np.maximum((times - joined.times[0]) / DAY, 0.0)
    error = settings.forecast_error + settings.forecast_error_per_day * ahead
    return central, central * np.maximum(1 - error, 0.0), central * (1 + error)


def _fall(
    seen: Series,
    coming: Series,
    times: Times,
    how: tuple[RecessionLaw | None, Trend, DailyCourse | None],
    now: np.datetime64,
    settings: OutlookSettings,
) -> Band:
    """Return the recession with its band, after the last reading or after the forecast's end.

    `how` is the recession law, the trend of the last reading and the daily wave. Unknown (NaN) on a
    rise, above the highest fall on record, after too old a reading, and beyond `LEADS` days.
    """
    law, trend, course = how
    start, known_at = seen, seen
    if coming.times.size:
        trend, start = trend_at(coming.times, coming.flow), coming
        course = None  # the forecast holds its own daily wave
        known_at = coming.until(max(now, coming.times[0]))
    if law is None or not start.times.size or trend in (Trend.RISING, Trend.UNKNOWN):
        return _nothing(times)
    begin, flow = start.times[-1], float(start.flow[-1])
    within = np.ones(times.shape)
    if course is not None:  # recede from the daily mean, then lay the wave over it
        flow /= float(course.at(start.times[-1:])[0])
        within = course.at(times)
    if now - begin > settings.lost_days * DAY or flow > law.highest * settings.beyond:
        return _nothing(times)
    days = (times - begin) / DAY
    days = np.where(days >= 0, days, np.nan)
    central = np.maximum(recession_flow(law, flow, days), min(law.floor, flow)) * within
    # law.low and law.high: bounds of the error of ln flow after 1 to LEADS days; 0 at the start
    leads = np.arange(LEADS + 1.0)
    below, above = (
        np.interp(np.nan_to_num(days), leads, np.r_[0.0, side]) for side in (law.low, law.high)
    )
    base = settings.read_error
    if start is not seen:  # the forecast's own error at its end
        base = settings.forecast_error + settings.forecast_error_per_day * float(
            (begin - known_at.times[0]) / DAY
        )
    beyond = np.where(days > LEADS, np.nan, 1.0)
    return (
        central * beyond,
        central * np.exp(below) * max(1 - base, 0.0) * beyond,
        central * np.exp(above) * (1 + base) * beyond,
    )


def _daily_trend(seen: Series) -> Trend:
    """Return the trend between the means of the last two periods of 24 hours."""
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
    """Return a band of NaN."""
    blank = np.full(times.shape, np.nan)
    return blank, blank, blank
