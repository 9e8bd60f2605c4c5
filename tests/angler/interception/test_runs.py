"""The score of runs: closed forms in a uniform channel, and what must hold whatever the river."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.angler.interception.density import Presence
from reachmap.angler.interception.runs import Fish, Places, odds_of_runs, prime_stretch
from reachmap.angler.interception.settings import InterceptionSettings, Member
from reachmap.angler.interception.swept import Swept

RULES = replace(
    InterceptionSettings(), members=(Member(), Member(view=1.4), Member(hold_share=0.5))
)
SHAPE = (40, 400)
CELLS = SHAPE[0] * SHAPE[1]


def uniform(lie=0.0):
    """Return a channel in which fish pass evenly."""
    flat = np.full(CELLS, 0.025)
    passes = Presence(SHAPE, 1.0, np.arange(CELLS), flat, flat, np.full(CELLS, lie))
    return Fish.of(passes, RULES)


def swept(blocks, seconds=3.0):
    """Return what places cover: blocks of (rows, columns), each evenly for so many seconds."""
    grid = np.arange(CELLS).reshape(SHAPE)
    cells = [np.sort(grid[a:b, c:d].ravel()) for (a, b), (c, d) in blocks]
    place = np.concatenate([np.full(one.size, k) for k, one in enumerate(cells)])
    cell = np.concatenate(cells)
    return Swept(place, cell, np.full(cell.size, float(seconds)), len(blocks))


def places(stations, *, minutes=5.0, side=1, numbers=None):
    """Return places on one bank."""
    n = len(stations)
    return Places(
        np.arange(n) if numbers is None else np.asarray(numbers),
        np.full(n, side),
        np.asarray(stations, dtype=float),
        np.full(n, float(minutes)),
    )


def blocks(count, width=10, rows=(0, 10), start=0):
    """Return blocks side by side down the channel."""
    return [(rows, (start + width * k, start + width * (k + 1))) for k in range(count)]


def test_odds_in_a_uniform_channel_have_a_closed_form():
    # a share of the area, met with chance 1 - exp(-t / take)
    found = odds_of_runs({"a": places(10.0 * np.arange(8))}, swept(blocks(8)), uniform(), RULES)[
        "a"
    ]
    share = 8 * 100 / CELLS
    assert found.odds[0] == pytest.approx(share * (1 - np.exp(-3.0 / RULES.take_s)))
    assert found.odds[1] == pytest.approx(share * (1 - np.exp(-(1.4**2) * 3.0 / RULES.take_s)))
    assert found.hours == pytest.approx((8 * 5.0 + RULES.setup_min) / 60)
    assert found.share.sum() == pytest.approx(found.odds[0])
    assert found.passing == pytest.approx(1.0)


def test_two_identical_runs_score_alike():
    both = swept([*blocks(6), *blocks(6, start=200)])
    runs = {
        "a": places(10.0 * np.arange(6)),
        "b": places(200 + 10.0 * np.arange(6), numbers=range(6, 12)),
    }
    found = odds_of_runs(runs, both, uniform(), RULES)
    assert found["a"].odds == pytest.approx(found["b"].odds)
    assert found["a"].rate == pytest.approx(found["b"].rate)


def test_half_of_the_strip_reached_is_half_of_the_score():
    whole = odds_of_runs({"a": places(10.0 * np.arange(6))}, swept(blocks(6)), uniform(), RULES)[
        "a"
    ]
    half = odds_of_runs(
        {"a": places(10.0 * np.arange(6))}, swept(blocks(6, rows=(0, 5))), uniform(), RULES
    )["a"]
    assert half.odds == pytest.approx(0.5 * whole.odds)


def test_water_that_nobody_stands_by_scores_nothing():
    assert odds_of_runs({}, swept(blocks(6)), uniform(), RULES) == {}
    assert odds_of_runs({"a": places([])}, swept(blocks(6)), uniform(), RULES) == {}
    # and water without a fish
    empty = Fish.of(Presence(SHAPE, 1.0, np.zeros(0, dtype=int), *(np.zeros(0),) * 3), RULES)
    assert odds_of_runs({"a": places([0.0])}, swept(blocks(1)), empty, RULES)["a"].odds.sum() == 0


def test_water_covered_twice_is_not_met_twice():
    once = odds_of_runs({"a": places([0.0])}, swept(blocks(1)), uniform(), RULES)["a"]
    twice = odds_of_runs({"a": places([0.0, 6.0])}, swept(blocks(1) * 2), uniform(), RULES)["a"]
    assert once.odds[0] < twice.odds[0] < 2 * once.odds[0]
    share = 100 / CELLS
    assert twice.odds[0] == pytest.approx(share * (1 - np.exp(-6.0 / RULES.take_s)))
    assert twice.share == pytest.approx([0.5 * twice.odds[0]] * 2)


def test_of_two_places_at_one_spot_the_better_is_fished():
    two = swept([((0, 10), (0, 10)), ((0, 4), (0, 10))])
    found = odds_of_runs({"a": places([1.0, 2.0])}, two, uniform(), RULES)["a"]
    assert list(found.places) == [0]
    assert found.hours == pytest.approx((5.0 + RULES.setup_min) / 60)


def test_the_better_bank_counts():
    both = swept([*blocks(4), *blocks(4, rows=(20, 24))])
    here = places(10.0 * np.arange(8) % 40, side=1)
    sides = np.r_[np.ones(4), -np.ones(4)].astype(int)
    mixed = Places(here.number, sides, here.station, here.minutes)
    found = odds_of_runs({"a": mixed}, both, uniform(), RULES)["a"]
    assert list(found.places) == [0, 1, 2, 3]


def test_a_scrap_does_not_lead_a_run_by_its_minutes():
    # without the minutes of setting up both would have the same rate
    runs = {
        "scrap": places([0.0, 10.0]),
        "run": places(100 + 10.0 * np.arange(10), numbers=range(2, 12)),
    }
    found = odds_of_runs(runs, swept(blocks(2) + blocks(10, start=100)), uniform(), RULES)
    assert found["run"].rate[0] > 1.5 * found["scrap"].rate[0]
    bare = odds_of_runs(
        runs, swept(blocks(2) + blocks(10, start=100)), uniform(), replace(RULES, setup_min=0.0)
    )
    assert bare["run"].rate[0] == pytest.approx(bare["scrap"].rate[0])


def test_the_prime_stretch_is_the_best_hundred_to_two_hundred_yards():
    station = 5.0 * np.arange(100)
    odds = np.where((station >= 200) & (station < 320), 3.0, 1.0)
    first, last = prime_stretch(station, odds, np.full(100, 3.0), RULES)
    assert 195 <= station[first] <= 205
    assert 310 <= station[last] <= 325
    assert prime_stretch(station[:10], odds[:10], np.ones(10), RULES) == (0, 9)


def test_where_a_hundred_yards_eat_the_day_the_stretch_is_what_the_time_allows():
    station = 5.0 * np.arange(40)
    odds = np.where((station >= 100) & (station < 140), 3.0, 1.0)
    # 8 minutes a place: 100 yards are 19 places and 152 minutes, 90 minutes are 11 places
    first, last = prime_stretch(station, odds, np.full(40, 8.0), RULES)
    assert last - first + 1 == 11
    assert first <= 20
    assert last >= 27
    # a shorter run is cut too; never below 40 yards (8 places), however long they take
    first, last = prime_stretch(station[:14], odds[:14], np.full(14, 8.0), RULES)
    assert last - first + 1 == 11
    first, last = prime_stretch(station, odds, np.full(40, 30.0), RULES)
    assert last - first + 1 == 8
    first, last = prime_stretch(station[:5], odds[:5], np.full(5, 30.0), RULES)
    assert (first, last) == (0, 4)


def test_a_gap_in_the_bank_ends_a_stretch():
    # 40 m, a gap of 200 m, 60 m of better water: the stretch does not reach over the gap
    station = np.r_[5.0 * np.arange(8), 240 + 5.0 * np.arange(12)]
    odds = np.r_[np.ones(8), 2 * np.ones(12)]
    assert prime_stretch(station, odds, np.full(20, 5.0), RULES) == (8, 19)


@given(values=st.lists(st.floats(0.01, 10), min_size=20, max_size=60))
def test_a_prime_stretch_is_never_longer_than_two_hundred_yards(values):
    station = 5.0 * np.arange(len(values))
    first, last = prime_stretch(station, np.array(values), np.full(len(values), 4.0), RULES)
    length = station[last] - station[first] + RULES.bin_m
    assert length <= RULES.prime_high_m
    assert length >= RULES.prime_low_m
