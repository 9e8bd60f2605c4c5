"""The water's temperature over the coming days: made readings with known trend and wave."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reachmap.base.words import UnitSystem
from reachmap.gauge.series import DAY, HOUR
from reachmap.gauge.warmth_csv import read_warmth
from reachmap.planner.water_course import water_course
from tests.planner.made import START

NOW = START + 10 * DAY
LONGITUDE = -120.0  # the sun is eight hours behind
HOURS = np.arange(24 * 6) - 24 * 6 + 1


def wave(times):
    hour = (times - times.astype("datetime64[D]")) / HOUR - 8
    return np.cos(2 * np.pi * (hour - 16.5) / 24)


def test_a_made_trend_and_wave_are_carried_on():
    times = NOW + HOURS * HOUR
    made = 6.0 + 0.4 * HOURS / 24 + 1.2 * wave(times)
    found = water_course(times, made, NOW, LONGITUDE)
    assert found is not None
    assert found.per_day == pytest.approx(0.4, abs=0.03)
    assert found.swing_c == pytest.approx(1.2, rel=0.1)
    ahead = NOW + np.arange(1, 49) * HOUR
    true = 6.0 + 0.4 * (ahead - NOW) / DAY + 1.2 * wave(ahead)
    assert np.abs(found.at(ahead) - true).max() < 0.3


def test_a_warm_evening_after_a_cold_morning_is_no_trend():
    times = NOW + np.array([-33, -8, -1]) * HOUR  # mornings and an evening
    made = 6.0 + 0.7 * wave(times)
    found = water_course(times, made, NOW, LONGITUDE)
    assert found is not None
    assert abs(found.per_day) < 0.05


def test_one_reading_has_no_trend_an_old_one_tells_nothing_and_a_later_one_is_not_read():
    one = water_course(np.array([NOW]), np.array([5.0]), NOW, LONGITUDE)
    assert one is not None
    assert one.per_day == 0
    assert one.at(np.array([NOW]))[0] == pytest.approx(5.0)
    for when in (NOW - 4 * DAY, NOW + HOUR):
        assert water_course(np.array([when]), np.array([5.0]), NOW, LONGITUDE) is None


def test_a_steep_trend_is_held_back_and_ends_and_no_river_is_colder_than_ice():
    times = NOW + np.arange(-4, 1) * DAY
    found = water_course(times, 4.0 - 3.0 * np.arange(-4, 1), NOW, LONGITUDE)
    assert found is not None
    assert found.per_day == -1.0
    far = found.at(np.array([NOW + 3 * DAY, NOW + 9 * DAY]))
    assert far[0] == far[1]
    assert (far >= 0).all()


def test_readings_of_a_file_are_read_in_either_unit_and_odd_ones_told():
    west = ZoneInfo("America/Los_Angeles")
    found, faults = read_warmth(
        "t.csv", "time,water_f\n2031-01-19T08:00,41\n2031-01-19T12:00,\n", UnitSystem.METRIC, west
    )
    assert not faults
    assert found == [(np.datetime64("2031-01-19T16:00:00"), pytest.approx(5.0))]
    _, faults = read_warmth("t.csv", "time,water\nx,5\n2031-01-19,99\n", UnitSystem.METRIC, west)
    assert len(faults) == 2
    assert "no columns" in str(read_warmth("t.csv", "a,b\n", UnitSystem.US, west)[1][0])
