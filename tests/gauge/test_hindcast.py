"""Storms of a record, and the recession tried on them: made rivers, and two real ones."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from reachmap.gauge.clarity_data import ClarityNote, Limb
from reachmap.gauge.hindcast import Hindcast, hindcast, members_of, skill
from reachmap.gauge.hindcast_clarity import hindcast_clarity
from reachmap.gauge.recession import LEADS, recession_flow
from reachmap.gauge.series import DAY, NOTHING, Series
from reachmap.gauge.storms import days_since_peak, storm_numbers, storms_of
from tests.gauge.test_recession import law
from tests.planner.made import START, hourly

DATA = Path(__file__).parent / "data"


def made_storms(count: int = 6, days: int = 9, law_of=lambda _: law()) -> np.ndarray:
    """Return hourly falls, each after a day's rise to its peak [m3/s]."""
    parts = []
    for number in range(count):
        fall = recession_flow(law_of(number), 60.0 + 8 * number, np.arange(24 * days) / 24)
        low = parts[-1][-1] if parts else 15.0
        parts.append(np.concatenate([np.geomspace(low, fall[0], 24), fall[1:]]))
    return np.concatenate(parts)


def real(name: str) -> Series:
    table = pd.read_csv(DATA / name, comment="#")
    times = table["date"].to_numpy(dtype="datetime64[s]") + np.timedelta64(12, "h")
    return Series(times, table[table.columns[1]].to_numpy(dtype=float))


def test_each_made_storm_is_found_with_its_peak():
    flow = made_storms()
    found = storms_of(flow)
    assert len(found) == 6
    assert [storm.top for storm in found] == pytest.approx([60.0 + 8 * n for n in range(6)])
    assert all(storm.passed for storm in found)
    assert storm_numbers(flow.size, found)[[0, found[1].begin, flow.size - 1]].tolist() == [0, 1, 5]


def test_a_rise_that_has_not_peaked_and_one_into_a_gap_are_no_peak():
    rise = np.geomspace(10, 30, 40)
    assert [storm.passed for storm in storms_of(rise)] == [False]
    assert np.isnan(days_since_peak(rise, 24)).all()
    gap = np.r_[rise, np.nan, np.full(20, 12.0)]
    assert [(storm.passed, storm.last) for storm in storms_of(gap)] == [(False, rise.size - 1)]
    assert np.isnan(days_since_peak(gap, 24)).all()


def test_a_wobble_of_a_fifth_is_no_storm():
    flow = 20 * np.exp(0.08 * np.sin(np.arange(400) / 9))
    assert storms_of(flow) == ()
    assert np.isnan(days_since_peak(flow, 24)).all()


def test_a_peak_that_wobbles_is_one_storm():
    top = np.linspace(60, 66, 48) * (1 + 0.015 * np.cos(np.arange(48) * np.pi / 3))
    flow = np.concatenate([np.geomspace(15, 60, 24), top, np.geomspace(58, 15, 60)])
    found = storms_of(flow)
    assert len(found) == 1
    assert found[0].top == flow.max()


def test_days_since_the_peak_count_from_it_and_stop_at_the_next_rise():
    flow = made_storms(2)
    storms = storms_of(flow)
    since = days_since_peak(flow, 24)
    assert since[storms[0].peak] == 0
    assert since[storms[0].peak + 36] == pytest.approx(1.5)
    assert np.isnan(since[storms[1].begin : storms[1].peak]).all()


def test_a_river_that_falls_by_one_law_is_told_without_error_until_the_next_rain():
    tried = hindcast(hourly(made_storms()))
    assert tried is not None
    assert tried.storms == 6
    dry = tried.dry
    assert np.abs(tried.errors[dry]).max() < 0.02
    assert skill(tried.errors[dry], tried.persistence[dry]) > 0.99
    rained = ~dry[:, 5] & np.isfinite(tried.errors[:, 5])
    assert (tried.errors[rained, 5] > 0.1).any()  # what came counts, rain as well


def test_no_storm_is_told_by_a_law_that_saw_it():
    # the odd storms fall twice as quickly: told by the others alone they are off, whichever it is
    flow = made_storms(2, law_of=lambda n: law(rate=0.2 * (1 + n % 2)))
    tried = hindcast(hourly(flow))
    assert tried is not None
    for storm in (0, 1):
        mine = tried.storm == storm
        first = tried.errors[mine, 0][tried.dry[mine, 0]]
        assert (np.abs(first) > 0.05).mean() > 0.5
        assert np.sign(np.median(first)) == (1 if storm == 0 else -1)


def test_odds_need_several_storms_and_take_few_of_each():
    assert hindcast(NOTHING) is None
    tried = hindcast(hourly(made_storms(3)))
    assert members_of(tried, 40.0, -0.1, 10) is None  # three storms are no odds
    tried = hindcast(hourly(made_storms(8)))
    members = members_of(tried, 40.0, -0.1, 10)
    assert members is not None
    assert members.shape[1] == LEADS + 1
    assert (members[:, 0] == 0).all()
    assert tried is not None
    assert len(members) <= 3 * tried.storms


def test_odds_prefer_the_season():
    starts = 60
    none = np.zeros((starts, LEADS))
    year_day = np.where(np.arange(starts) < 30, 15, 200)
    misses = np.where(year_day == 15, 1.0, -1.0)[:, None] + none
    same, fell, storm = np.full(starts, 40.0), np.full(starts, -0.1), np.arange(starts)
    tried = Hindcast(same, fell, year_day, storm, misses, none, none > 1, none)
    members = members_of(tried, 40.0, math.nan, 360)
    assert members is not None
    assert (members[:30, 1:] == 1.0).all()
    left = members_of(tried, 40.0, math.nan, 360, without=0)
    assert left is not None
    assert (left[:, 1] == 1.0).sum() == 29


def test_odds_prefer_storms_that_fell_as_fast():
    starts = 60
    none = np.zeros((starts, LEADS))
    fell = np.where(np.arange(starts) < 30, -0.1, -0.6)
    misses = np.where(fell == -0.6, 1.0, -1.0)[:, None] + none
    same, storm = np.full(starts, 40.0), np.arange(starts)
    tried = Hindcast(same, fell, np.full(starts, 9), storm, misses, none, none > 1, none)
    members = members_of(tried, 40.0, -0.5, 9)
    assert members is not None
    assert (members[:30, 1] == 1.0).all()


@pytest.mark.table
def test_on_a_real_river_what_was_given_odds_came_about_as_often():
    # each storm's odds by the others alone: the river has dropped by a fifth, 3 days ahead
    tried = hindcast(real("daily_09447000.csv"))
    assert tried is not None
    said, came = [], []
    for at in range(0, tried.flow.size, 3):
        members = members_of(
            tried, float(tried.flow[at]), float(tried.fell[at]), int(tried.year_day[at]),
            without=int(tried.storm[at]),
        )  # fmt: skip
        assert members is not None
        told = np.log(tried.forecast[at, 2] / tried.flow[at])
        said.append(float((told + members[:, 3] <= np.log(0.8)).mean()))
        came.append(float(tried.persistence[at, 2] <= np.log(0.8)))
    odds, true = np.array(said), np.array(came)
    for low, high in ((0.0, 0.2), (0.2, 0.5), (0.5, 0.8)):
        mine = (odds >= low) & (odds < high)
        assert mine.sum() > 30
        assert abs(odds[mine].mean() - true[mine].mean()) < 0.13
    brier, usual = ((odds - true) ** 2).mean(), ((true.mean() - true) ** 2).mean()
    assert brier < 0.85 * usual


def test_skill_is_one_for_no_error_and_zero_for_that_of_the_reference():
    error = np.array([0.1, -0.2, np.nan])
    assert skill(0 * error, error) == 1
    assert skill(error, error) == 0
    assert np.isnan(skill(error * np.nan, error))


@pytest.mark.table
def test_on_two_real_rivers_the_fall_beats_saying_that_nothing_changes_while_it_is_dry():
    for name, least in (("daily_01013500.csv", 0.6), ("daily_09447000.csv", 0.4)):
        tried = hindcast(real(name))
        assert tried is not None
        for lead in range(5):
            dry = tried.dry[:, lead]
            assert skill(tried.errors[dry, lead], tried.persistence[dry, lead]) > least
            # rain is in nobody's recession: over all that came little is left of the skill
            assert skill(tried.errors[:, lead], tried.persistence[:, lead]) < 0.1


def test_notes_that_keep_a_law_tell_a_storm_they_never_saw():
    notes = [
        ClarityNote(2.0 * q**-0.8 * 20, q, limb=Limb.FALLING, when=START + (storm * 20 + day) * DAY)
        for storm in range(3)
        for day, q in enumerate((80.0, 55.0, 40.0, 30.0))
    ]
    tried = hindcast_clarity(notes)
    assert tried.days.tolist() == [1, 2, 3] * 3
    assert np.abs(tried.errors).max() < 1e-9
    assert (tried.persistence > 0.2).all()


def test_notes_of_one_storm_alone_tell_no_other():
    notes = [
        ClarityNote(1.0 + day, 40.0 - day, limb=Limb.FALLING, when=START + day * DAY)
        for day in range(3)
    ]
    assert np.isnan(hindcast_clarity(notes).errors[1:]).all()
