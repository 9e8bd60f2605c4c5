"""Daylight against the almanac, against an ephemeris, and across changes of the clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
import skyfield_data
from hypothesis import example, given
from hypothesis import strategies as st
from skyfield import almanac
from skyfield.api import Loader, wgs84

from reachmap.planner.sun import daylight, midnight, zone_at

TWO_MINUTES = 120.0
USNO = pd.read_csv(
    Path(__file__).resolve().parents[2] / "shared/tables/sun_usno_2019.csv", comment="#"
)
WEST = ZoneInfo("America/Los_Angeles")


def apart(got: datetime | None, want: datetime) -> float:
    assert got is not None
    return abs((got - want).total_seconds())


@pytest.mark.table
@pytest.mark.parametrize("row", list(USNO.itertuples(index=False)), ids=lambda row: row.date)
@pytest.mark.parametrize("zone", [ZoneInfo("America/New_York"), UTC], ids=["there", "utc"])
def test_the_sun_rises_and_sets_as_in_the_almanac(row, zone):
    day = date.fromisoformat(row.date)
    found = daylight(day, -81.0, 29.0, zone)
    rise = datetime.fromisoformat(f"{row.date}T{row.rise_ut}").replace(tzinfo=UTC)
    sets = datetime.fromisoformat(f"{row.date}T{row.set_ut}").replace(tzinfo=UTC)
    if sets < rise:  # the table's date is that of universal time
        sets += timedelta(days=1)
    assert apart(found.sunrise, rise) <= TWO_MINUTES
    assert apart(found.sunset, sets) <= TWO_MINUTES


@pytest.mark.table
def test_civil_twilight_is_that_of_the_almanac():
    # github.com/cosinekitty/astronomy, generate/riseset/twilight.txt: 28.538 N 81.379 W, UT
    found = daylight(date(2022, 1, 22), -81.379, 28.538, ZoneInfo("America/New_York"))
    assert apart(found.dawn, datetime(2022, 1, 22, 11, 52, tzinfo=UTC)) <= TWO_MINUTES
    assert apart(found.dusk, datetime(2022, 1, 22, 23, 21, tzinfo=UTC)) <= TWO_MINUTES


@pytest.mark.table
def test_the_sunset_is_of_the_local_evening_not_of_universal_time():
    # skyfield 1.55 with de421: 47.95 N 124.40 W, 2026-02-01, 07:44:47 and 17:18:11 PST
    found = daylight(date(2026, 2, 1), -124.40, 47.95, WEST)
    assert apart(found.sunrise, datetime(2026, 2, 1, 7, 44, 47, tzinfo=WEST)) <= TWO_MINUTES
    assert apart(found.sunset, datetime(2026, 2, 1, 17, 18, 11, tzinfo=WEST)) <= TWO_MINUTES


@pytest.fixture(scope="module")
def sky():
    load = Loader(Path(skyfield_data.__file__).parent / "data")
    bodies = load("de421.bsp")
    yield bodies, load.timescale(builtin=True)
    bodies.close()  # left open, its warning would fail whichever test runs when it is collected


@pytest.mark.table
@pytest.mark.parametrize("longitude", [-141.3, -75.0, 0.0, 24.0, 170.0])
@pytest.mark.parametrize("latitude", [-52.0, 30.0, 58.0])
@pytest.mark.parametrize("day", [date(2030, 1, 15), date(2030, 6, 21), date(2041, 10, 2)])
def test_the_sun_agrees_with_an_ephemeris(sky, longitude, latitude, day):
    bodies, scale = sky
    found = daylight(day, longitude, latitude, UTC)
    assert found.sunrise is not None
    assert found.sunset is not None
    begin = datetime.combine(day, datetime.min.time(), tzinfo=UTC) - timedelta(days=1)
    span = (scale.from_datetime(begin), scale.from_datetime(begin + timedelta(days=3)))
    here = bodies["earth"] + wgs84.latlon(latitude, longitude)
    for want, find in (
        (found.sunrise, almanac.find_risings),
        (found.sunset, almanac.find_settings),
    ):
        times, _ = find(here, bodies["sun"], *span)
        assert min(apart(want, time.utc_datetime()) for time in times) <= TWO_MINUTES
    assert timedelta(0) < found.sunset - found.sunrise < timedelta(days=1)


def test_where_the_sun_does_not_set_the_whole_day_is_light_and_where_it_does_not_rise_none():
    north = zone_at(24.0, 69.0)
    summer, winter = (daylight(date(2030, month, 21), 24.0, 69.0, north) for month in (6, 12))
    assert summer.hours is not None
    assert summer.hours[1] - summer.hours[0] == timedelta(days=1)
    assert winter.hours is None


@pytest.mark.parametrize(
    ("place", "name"),
    [
        ((-124.4, 47.95), "America/Los_Angeles"),
        ((24.0, 68.0), "Europe/Helsinki"),
        ((-141.3, 46.2), "Etc/GMT+9"),
    ],
)
def test_the_clock_is_that_of_the_place(place, name):
    assert zone_at(*place).key == name


@given(offset=st.integers(0, 4000), longitude=st.floats(-125, -115), latitude=st.floats(33, 49))
@example(offset=66, longitude=-124.0, latitude=48.0)  # 2030-03-10: the clock goes forward
@example(offset=304, longitude=-124.0, latitude=48.0)  # 2030-11-03: the clock goes back
def test_every_local_day_has_its_own_light_whatever_the_clock_does(offset, longitude, latitude):
    day = date(2030, 1, 3) + timedelta(days=offset)
    today, next_day = (daylight(day + timedelta(days=k), longitude, latitude, WEST) for k in (0, 1))
    assert today.sunrise is not None
    assert today.sunset is not None
    assert next_day.sunrise is not None
    assert today.sunrise.date() == today.sunset.date() == day
    # in absolute time the sun knows nothing of the clock
    real = next_day.sunrise.astimezone(UTC) - today.sunrise.astimezone(UTC)
    assert abs(real - timedelta(days=1)) < timedelta(minutes=4)


def test_a_day_of_the_clock_s_change_is_23_or_25_hours_long():
    for day, hours in ((date(2030, 3, 10), 23), (date(2030, 11, 3), 25), (date(2030, 7, 1), 24)):
        length = midnight(day + timedelta(days=1), WEST) - midnight(day, WEST)
        assert length == timedelta(hours=hours)
