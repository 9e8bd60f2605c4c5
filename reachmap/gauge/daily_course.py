"""Daily cycle of the flow, from the record: a snow-melt wave, or releases of a dam as steps.

Both recur at the same hours day after day; the rise of a storm does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.gauge.series import DAY, HOUR, Series, Times, flow_on, hours_between, spacing_hours


class CourseKind(StrEnum):
    """What makes the daily course."""

    WAVE = "wave"
    RELEASE = "release"


@dataclass(frozen=True, slots=True)
class CourseSettings:
    """Thresholds for accepting a daily cycle."""

    days: int = 7
    """Days before the last reading that are used; our choice, 5-14: melt and the operation of a
    dam change within weeks."""
    fewest: int = 4
    """Whole days it must be seen on at least; our choice, 3-6."""
    swing: float = 0.03
    """Least half-range of ln flow within the day; our choice, 0.02-0.08: smaller ones are within
    a gauge's noise and change no run."""
    alike: float = 0.8
    """Least similarity of the days: length of the mean daily wave over the mean length of the days'
    waves, 0 to 1; our choice, 0.7-0.95."""
    step_share: float = 0.4
    """From this share of the day's range within an hour or two on it is a release; our choice,
    0.3-0.6: a melt wave takes hours to rise."""


@dataclass(frozen=True, slots=True)
class DailyCourse:
    """Daily cycle of the flow.

    Parameters
    ----------
    kind
        A wave or a release.
    ratio
        Flow over the day's mean at each hour of UTC, shape (24,), > 0.
    low_hour, high_hour, up_hour
        Hours of UTC at which it is lowest and highest, and at the end of its steepest rise.
    days
        Number of whole days used.
    """

    kind: CourseKind
    ratio: FloatArray
    low_hour: int
    high_hour: int
    up_hour: int
    days: int

    @property
    def swing(self) -> float:
        """Return the highest flow of the day over its lowest, >= 1."""
        return float(self.ratio.max() / self.ratio.min())

    def at(self, times: Times) -> FloatArray:
        """Return the flow over the day's mean at instants (UTC), straight between the hours."""
        hour = (times - times.astype("datetime64[D]")) / HOUR
        return np.asarray(np.interp(hour, np.arange(25), np.r_[self.ratio, self.ratio[:1]]))


def daily_course(record: Series, settings: CourseSettings | None = None) -> DailyCourse | None:
    """Return the daily cycle common to the last days; None where there is none.

    Parameters
    ----------
    record
        Readings up to now, at least every two hours.
    settings
        Thresholds for accepting a cycle.

    Notes
    -----
    ln flow less its running mean over a day; the 24-hour harmonic of each whole day is a length and
    a phase. Where the phases agree the harmonics add up, and the mean over the days at each hour is
    the course. A fall or a single storm leaves phases that do not agree, or no length.
    """
    chosen = settings or CourseSettings()
    known = record.known
    if not known.times.size or not spacing_hours(known) <= 2.0:
        return None
    last = known.times[-1]
    recent = record.after(last - (chosen.days + 2) * DAY)
    if recent.times.size < 24:
        return None
    times = hours_between(recent.times[0] + HOUR - np.timedelta64(1, "s"), last)
    apart = np.log(flow_on(recent, times))
    apart = apart - _day_mean(apart)
    rows = _whole_days(times, apart)[-chosen.days :]
    if len(rows) < chosen.fewest:
        return None
    # First harmonic of each day; |mean| / mean|.| is the resultant length of circular statistics,
    # weighted by how strong each day's wave is.
    turns = rows @ np.exp(-2j * np.pi * np.arange(24) / 24) / 12
    strength = float(np.abs(turns).mean())
    alike = float(np.abs(turns.mean())) / strength if strength > 0 else 0.0
    course = np.median(rows, axis=0)
    course -= course.mean()
    span = float(np.ptp(course))
    if alike < chosen.alike or span / 2 < chosen.swing:
        return None
    ring = np.r_[course, course[:2]]
    step = max(np.abs(np.diff(ring)).max(), np.abs(ring[2:] - ring[:-2]).max() / 1.5)
    kind = CourseKind.RELEASE if step >= chosen.step_share * span else CourseKind.WAVE
    ratio = np.exp(course)
    return DailyCourse(
        kind,
        np.asarray(ratio / ratio.mean()),
        int(np.argmin(ratio)),
        int(np.argmax(ratio)),
        int(np.argmax(np.diff(np.r_[course, course[:1]])) + 1) % 24,
        len(rows),
    )


def _day_mean(values: FloatArray) -> FloatArray:
    """Return the mean over the day around each hour; NaN within half a day of the ends and gaps.

    25 hours, the first and last counting half, so that a daily wave leaves nothing.
    """
    weights = np.r_[0.5, np.ones(23), 0.5] / 24
    if values.size < weights.size:
        return np.full(values.shape, np.nan)
    inner = np.convolve(values, weights, mode="valid")
    return np.asarray(np.r_[np.full(12, np.nan), inner, np.full(12, np.nan)])


def _whole_days(times: Times, values: FloatArray) -> FloatArray:
    """Return the days (UTC) without a gap, one row of 24 hours each, in order."""
    day = times.astype("datetime64[D]")
    rows = [values[day == one] for one in np.unique(day)]
    whole = [row for row in rows if row.size == 24 and np.isfinite(row).all()]
    return np.array(whole, dtype=np.float64).reshape(-1, 24)


def day_means(record: Series) -> Series:
    """Return the record as running means over a day, hourly: what is left of a fall in melt.

    For a record at least every two hours; another is returned as it is.
    """
    known = record.known
    if not known.times.size or not spacing_hours(known) <= 2.0:
        return record
    times = hours_between(known.times[0] + HOUR - np.timedelta64(1, "s"), known.times[-1])
    return Series(times, np.exp(_day_mean(np.log(flow_on(record, times)))))
