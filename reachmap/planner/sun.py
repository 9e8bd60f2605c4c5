"""Daylight of a day at a place, in the clock of the place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
import tzfpy
from astral import Observer
from astral.sun import dawn, dusk, elevation, sunrise, sunset


@dataclass(frozen=True, slots=True)
class Daylight:
    """Civil dawn, sunrise, sunset and civil dusk in local time; None where there is none that day.

    `up_at_noon` distinguishes a day without sunset from one without sunrise.
    """

    day: date
    dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    dusk: datetime | None
    up_at_noon: bool
    zone: tzinfo

    @property
    def hours(self) -> tuple[datetime, datetime] | None:
        """Return when the sun is up on that day, begin and end; None where it does not rise."""
        if self.sunrise is not None and self.sunset is not None:
            return self.sunrise, self.sunset
        if not self.up_at_noon:
            return None
        begin = datetime.combine(self.day, time(0), tzinfo=self.zone)
        end = datetime.combine(self.day + timedelta(days=1), time(0), tzinfo=self.zone)
        return self.sunrise or begin, self.sunset or end


def zone_at(longitude: float, latitude: float) -> ZoneInfo:
    """Return the time zone of a place [degrees, WGS84], summer time included; UTC if unknown."""
    name = tzfpy.get_tz(longitude, latitude)
    return ZoneInfo(name or "UTC")


def daylight(day: date, longitude: float, latitude: float, zone: tzinfo) -> Daylight:
    """Return the daylight of a local day.

    Parameters
    ----------
    day
        In the clock of `zone`.
    longitude, latitude
        WGS84 [degrees].
    zone
        Time zone of the result.

    Notes
    -----
    The library finds the sunset of the wrong evening where the zone is far from solar time, so it
    is called in the place's solar time and the result converted to `zone`. Sun at -0.8333 degrees
    for rise and set, at -6 for civil twilight. Within two minutes of the almanac where the sun does
    not graze the horizon, see tests.
    """
    solar = timezone(timedelta(hours=round(longitude / 15)))
    noon = datetime.combine(day, time(12), tzinfo=zone)
    there = noon.astimezone(solar).date()
    place = Observer(latitude, longitude, 0.0)

    def at(event: Callable[..., datetime]) -> datetime | None:
        try:
            return event(place, date=there, tzinfo=solar).astimezone(zone)
        except ValueError:  # the sun does not reach that elevation on that day
            return None

    up = elevation(place, noon) > 0
    return Daylight(day, at(dawn), at(sunrise), at(sunset), at(dusk), up, zone)


def local(when: np.datetime64, zone: tzinfo) -> datetime:
    """Return a UTC instant in the clock of the place."""
    return datetime.fromtimestamp(int(when.astype("datetime64[s]").astype(int)), UTC).astimezone(
        zone
    )


def midnight(day: date, zone: tzinfo) -> datetime:
    """Return the begin of a local day, as UTC."""
    return datetime.combine(day, time(0), tzinfo=zone).astimezone(UTC)
