"""Rates from few trips: the exact interval, and words that say how little it is."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from reachmap.logbook.stats import is_near, rate_interval, run_key, tally_all
from reachmap.text.log import tally_words
from tests.logbook.test_store import FULL

# Garwood (1936), Biometrika 28:437, 95 % limits of a Poisson mean; from memory.
GARWOOD = [(0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (10, 4.795, 18.390)]


@pytest.mark.table
@pytest.mark.parametrize(("count", "low", "high"), GARWOOD)
def test_the_interval_is_the_printed_one(count, low, high):
    assert rate_interval(count, 1.0, 0.95) == pytest.approx((low, high), abs=6e-4)


@given(count=st.integers(1, 60), hours=st.floats(0.2, 200))
def test_at_its_bounds_what_was_seen_is_just_as_rare_as_said(count, hours):
    # definition: P(N >= n | low) = P(N <= n | high) = 5 %, by scipy's own Poisson distribution
    low, high = rate_interval(count, hours)
    assert poisson.sf(count - 1, low * hours) == pytest.approx(0.05, rel=1e-6)
    assert poisson.cdf(count, high * hours) == pytest.approx(0.05, rel=1e-6)


def test_no_hours_no_rate():
    with pytest.raises(ValueError, match="some hours"):
        rate_interval(1, 0.0)


def test_flows_within_a_quarter_count_as_the_same():
    flows = (62.0, 70.0, 90.0, math.nan)
    assert [is_near(flow, 62.0) for flow in flows] == [True, True, False, False]


def test_capitals_and_blanks_do_not_make_another_run():
    assert run_key(" Bend  2 LEFT") == run_key("Bend 2 left") != run_key("Ledge")


def test_a_tally_adds_trips_up():
    tally = tally_all([FULL, replace(FULL, flow=70.0, touches=1)])
    assert (tally.trips, tally.touches, round(tally.hours, 3)) == (2, 3, 1.833)


def test_words_are_honest_about_little_time():
    assert tally_words(tally_all([])) == "not fished yet at about this flow"
    one = tally_words(tally_all([FULL]))
    assert one.startswith("fished once, 2 touches in 0.9 h: ")
    assert one.endswith("too little time to be more than a hint")
    untimed = tally_words(tally_all([replace(FULL, minutes=math.nan)]))
    assert "no rate" in untimed
    many = tally_words(tally_all([replace(FULL, minutes=700.0)]))
    assert "hint" not in many
