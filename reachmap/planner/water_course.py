"""The water's temperature over the coming days, hour by hour, from readings and their trend."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.gauge.series import DAY, HOUR, Times


@dataclass(frozen=True, slots=True)
class WarmthSettings:
    """How readings are carried on."""

    fresh_days: float = 3.0
    """A last reading older than this tells nothing [d]; our choice, 1-5."""
    back_days: float = 5.0
    """Readings of so many days make the trend [d]; our choice, 3-10."""
    steepest: float = 1.0
    """Most that a trend carries on [C/d]; our choice, 0.5-1.5: rivers turn slowly."""
    carried_days: float = 3.0
    """A trend is carried on for so long, then it stands [d]; our choice, 1-5."""
    swing_c: float = 0.7
    """Half of the day's range where the readings do not tell it [C]; our choice, 0.3-2: a small
    shaded river in winter swings less, a wide one in spring more."""
    warmest_hour: float = 16.5
    """Hour of the sun at which it is warmest; common practice, 15-18."""
    least_a_day: int = 6
    """Readings a day from which on they tell the day's range; our choice, 4-12."""


@dataclass(frozen=True, slots=True)
class WaterCourse:
    """Temperature by trend and hour of the day.

    Parameters
    ----------
    when, mean_c
        Instant of the last reading (UTC) and the mean of the day at it [C].
    per_day
        Trend [C/d], 0 where the readings tell none.
    swing_c, warmest_utc
        Half of the day's range [C] and the hour of UTC at which it is warmest.
    carried_days
        For how long the trend is carried on [d].
    readings
        How many readings it rests on.
    """

    when: np.datetime64
    mean_c: float
    per_day: float
    swing_c: float
    warmest_utc: float
    carried_days: float
    readings: int

    def at(self, times: Times) -> FloatArray:
        """Return the temperature at instants [C], never below freezing."""
        days = np.clip((times - self.when) / DAY, 0.0, self.carried_days)
        mean = self.mean_c + self.per_day * days
        return np.asarray(np.maximum(mean + self.swing_c * _wave(times, self.warmest_utc), 0.0))


def _wave(times: Times, warmest: float) -> FloatArray:
    """Return a daily wave, 1 at the warmest hour of UTC, -1 twelve hours off."""
    hour = (times - times.astype("datetime64[D]")) / HOUR
    return np.asarray(np.cos(2 * np.pi * (hour - warmest) / 24))


def water_course(
    times: Times,
    celsius: FloatArray,
    now: np.datetime64,
    longitude: float,
    settings: WarmthSettings | None = None,
) -> WaterCourse | None:
    """Return the temperature's course; None where nothing fresh was read.

    Parameters
    ----------
    times, celsius
        Readings in any order (UTC) [C]; those after `now` are left out.
    now
        UTC.
    longitude
        For the hour of the sun [degrees, WGS84].
    settings
        How they are carried on.

    Notes
    -----
    The trend is a straight line by least squares through the readings of some days, the day's wave
    taken out of each, so that a warm evening after a cold morning is no trend. It wants readings
    that span a day.
    """
    asked = settings or WarmthSettings()
    good = np.isfinite(celsius) & (times <= now) & (times > now - asked.back_days * DAY)
    order = np.argsort(times[good])
    when, read = times[good][order], celsius[good][order]
    if not when.size or now - when[-1] > asked.fresh_days * DAY:
        return None
    warmest = (asked.warmest_hour - longitude / 15) % 24
    swing = _swing(when, read, asked)
    level = read - swing * _wave(when, warmest)
    days = (when - when[-1]) / DAY
    slope = 0.0
    if days[0] <= -1.0:
        slope = float(np.polyfit(days, level, 1)[0])
        slope = float(np.clip(slope, -asked.steepest, asked.steepest))
    near = days > -1.0
    mean = float((level[near] - slope * days[near]).mean())
    return WaterCourse(when[-1], mean, slope, swing, warmest, asked.carried_days, int(when.size))


def _swing(when: Times, read: FloatArray, asked: WarmthSettings) -> float:
    """Return half of the day's range by the readings [C]; the usual one where they are too few."""
    day = when.astype("datetime64[D]")
    ranges = [
        float(np.ptp(read[day == one])) / 2
        for one in np.unique(day)
        if (day == one).sum() >= asked.least_a_day
    ]
    return float(np.median(ranges)) if ranges else asked.swing_c
