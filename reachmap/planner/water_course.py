"""The water's temperature over the coming days, hour by hour, from readings and their trend."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.gauge.series import DAY, HOUR, Times


@dataclass(frozen=True, slots=True)
class WarmthSettings:
    """How readings of the water's temperature are extrapolated."""

    fresh_days: float = 3.0
    """A last reading older than this is not used [d]; our choice, 1-5."""
    back_days: float = 5.0
    """Days of readings behind the trend [d]; our choice, 3-10."""
    steepest: float = 1.0
    """Steepest trend that is extrapolated [C/d]; our choice, 0.5-1.5: rivers turn slowly."""
    carried_days: float = 3.0
    """A trend is extrapolated for this long, then held [d]; our choice, 1-5."""
    swing_c: float = 0.7
    """Half of the daily range where the readings do not give it [C]; our choice, 0.3-2: less in a
    small shaded river in winter, more in a wide one in spring."""
    warmest_hour: float = 16.5
    """Solar hour at which it is warmest; common practice, 15-18."""
    least_a_day: int = 6
    """Readings a day from which their range is used; our choice, 4-12."""


@dataclass(frozen=True, slots=True)
class WaterCourse:
    """Temperature by trend and hour of the day.

    Parameters
    ----------
    when, mean_c
        Instant of the last reading (UTC) and the daily mean at it [C].
    per_day
        Trend [C/d], 0 where the readings give none.
    swing_c, warmest_utc
        Half of the daily range [C] and the hour of UTC at which it is warmest.
    carried_days
        How long the trend is extrapolated [d].
    readings
        Number of readings used.
    """

    when: np.datetime64
    mean_c: float
    per_day: float
    swing_c: float
    warmest_utc: float
    carried_days: float
    readings: int

    def at(self, times: Times) -> FloatArray:
        """Return the temperature at instants [C], at least 0."""
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
        For the solar hour [degrees, WGS84].
    settings
        None for the defaults.

    Notes
    -----
    The trend is a least-squares line through the readings of some days with the daily wave taken
    out of each, so that a warm evening after a cold morning is no trend. It needs readings that
    span a day.
    """
    settings = settings or WarmthSettings()
    good = np.isfinite(celsius) & (times <= now) & (times > now - settings.back_days * DAY)
    order = np.argsort(times[good])
    when, read = times[good][order], celsius[good][order]
    if not when.size or now - when[-1] > settings.fresh_days * DAY:
        return None
    warmest = (settings.warmest_hour - longitude / 15) % 24
    swing = _swing(when, read, settings)
    level = read - swing * _wave(when, warmest)
    days = (when - when[-1]) / DAY
    slope = 0.0
    if days[0] <= -1.0:
        slope = float(np.polyfit(days, level, 1)[0])
        slope = float(np.clip(slope, -settings.steepest, settings.steepest))
    near = days > -1.0
    mean = float((level[near] - slope * days[near]).mean())
    return WaterCourse(when[-1], mean, slope, swing, warmest, settings.carried_days, int(when.size))


def _swing(when: Times, read: FloatArray, settings: WarmthSettings) -> float:
    """Return half of the daily range of the readings [C]; the default where they are too few."""
    day = when.astype("datetime64[D]")
    ranges = [
        float(np.ptp(read[day == one])) / 2
        for one in np.unique(day)
        if (day == one).sum() >= settings.least_a_day
    ]
    return float(np.median(ranges)) if ranges else settings.swing_c
