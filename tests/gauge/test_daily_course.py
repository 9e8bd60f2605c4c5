"""The flow's own course within the day: made waves and releases, storms that are none."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.gauge.daily_course import CourseKind, daily_course, day_means
from reachmap.gauge.recession import fit_recession, recession_flow
from reachmap.gauge.series import HOUR, NOTHING, Series
from tests.gauge.test_recession import law
from tests.planner.made import START, hourly

HOURS = np.arange(24 * 10)
STORM = np.r_[np.geomspace(20, 90, 12), recession_flow(law(), 90.0, np.arange(108) / 24)]
MELT = np.exp(0.12 * np.cos(2 * np.pi * (HOURS - 21) / 24))
FALL = recession_flow(law(0.06, 0.5, 30.0), 40.0, HOURS / 24)


def test_a_melt_wave_is_found_with_its_hours_and_its_size():
    found = daily_course(hourly(FALL * MELT))
    assert found is not None
    assert found.kind is CourseKind.WAVE
    assert (found.high_hour, found.low_hour) == (21, 9)
    assert found.swing == pytest.approx(np.exp(0.24), rel=0.02)
    assert found.at(START + np.array([21, 45]) * HOUR).tolist() == pytest.approx(
        [found.ratio.max()] * 2
    )


def test_releases_are_steps():
    on = np.isin(HOURS % 24, np.arange(14, 22))
    found = daily_course(hourly(np.where(on, 45.0, 30.0)))
    assert found is not None
    assert found.kind is CourseKind.RELEASE
    assert found.high_hour in range(14, 22)
    assert found.up_hour == 14
    assert found.swing == pytest.approx(1.5, rel=0.03)


@pytest.mark.parametrize(
    "flow",
    [
        FALL,
        np.full(240, 20.0),
        np.r_[np.full(120, 20.0), STORM],
        20 * np.exp(np.cumsum(np.random.default_rng(5).normal(0, 0.02, 240))),
    ],
    ids=["fall", "steady", "storm", "wander"],
)  # fmt: skip
def test_what_is_no_daily_course_is_not_taken_for_one(flow):
    assert daily_course(hourly(flow)) is None


def test_a_wave_that_comes_at_another_time_of_the_day_half_the_days_is_no_course():
    late = 12 * (HOURS // 24 % 2)
    wave = np.exp(0.12 * np.cos(2 * np.pi * (HOURS - 21 - late) / 24))
    assert daily_course(hourly(20 * wave)) is None


def test_a_daily_record_and_a_short_one_tell_none():
    assert daily_course(NOTHING) is None
    assert daily_course(hourly((FALL * MELT)[:70])) is None
    daily = Series(START + np.arange(30) * 24 * HOUR, np.linspace(30, 20, 30))
    assert daily_course(daily) is None
    assert day_means(daily) is daily


def test_day_means_take_the_wave_out_so_that_a_law_can_be_fitted():
    assert fit_recession(hourly(FALL * MELT)) is None  # it rises every day
    smooth = day_means(hourly(FALL * MELT))
    found = fit_recession(smooth)
    assert found is not None
    told = recession_flow(found, 35.0, np.arange(5.0))
    assert (
        np.abs(np.log(told / recession_flow(law(0.06, 0.5, 30.0), 35.0, np.arange(5.0)))).max()
        < 0.01
    )
