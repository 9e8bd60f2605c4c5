"""The score in words."""

import math

import pytest

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.text.odds import factor_words, odds_words, rank_words, window_words

ROW = {"odds": 83.4, "odds_low": 60.0, "odds_high": 100.0, "rank_low": 1, "rank_high": 3}


def run(low, high, best, **more):
    """Return a run with a window [cfs]."""
    names = ("window_low_m3_s", "window_high_m3_s", "window_best_m3_s")
    flows = (to_si(one, "cfs") for one in (low, high, best))
    return dict(zip(names, flows, strict=True)) | more


def test_a_score_is_never_told_without_how_sure_it_is():
    assert odds_words(ROW) == "odds 83 of 100 (60 to 100), 1st to 3rd here"
    assert odds_words({**ROW, "odds": math.nan}) == ""
    assert odds_words({}) == ""


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(1, 1, "1st"), (2, 3, "2nd to 3rd"), (4, 11, "4th to 11th"), (21, 22, "21st to 22nd"),
     (0, 0, ""), (math.nan, 2, "")],
)  # fmt: skip
def test_ranks(low, high, words):
    assert rank_words(low, high) == words


def test_a_window_says_its_ends_and_its_best_flow():
    words = window_words(run(900, 2100, 1400), UnitSystem.US)
    assert words == "Worth going to from 900 cfs to 2,100 cfs, best about 1,400 cfs."
    assert window_words(run(900, 900, 900), UnitSystem.US) == "Worth going to at 900 cfs only."
    assert window_words({"window_best_m3_s": math.nan}, UnitSystem.US) == ""


def test_what_lies_beyond_the_flows_read_and_a_wide_window_are_told():
    words = window_words(
        run(600, 5400, 900, window_open_low=True, window_open_high=True, window_wide=True),
        UnitSystem.US,
    )
    assert "perhaps below and above too" in words
    assert "trust it less" in words


WIDE = {"window_wide": True, "window_low_kind": "tailout", "window_high_kind": "soft_edge"}
DEPTHS = {"window_low_depth_m": 0.9144, "window_high_depth_m": 0.6096}


def test_a_wide_window_tells_the_water_at_its_two_ends():
    words = window_words(run(600, 5400, 900, **WIDE, **DEPTHS), UnitSystem.US)
    assert words.endswith(
        "A wide span for one run, since it is other water at its ends: "
        "tailout 3 ft deep at 600 cfs, soft edge 2 ft deep at 5,400 cfs."
    )
    same = {**WIDE, **DEPTHS, "window_high_kind": "tailout"}
    words = window_words(run(600, 5400, 900, **same), UnitSystem.US)
    assert "since it is other water" not in words
    assert "(tailout 3 ft deep at 600 cfs, tailout 2 ft deep at 5,400 cfs): trust it less" in words


def test_a_depth_that_is_not_known_is_not_told():
    words = window_words(run(600, 5400, 900, **WIDE), UnitSystem.US)
    assert "tailout at 600 cfs, soft edge at 5,400 cfs" in words


def test_the_factors_of_the_odds_are_told_on_demand():
    words = factor_words({"odds_hour": 0.0093, "passing": 0.64})
    assert "0.93 % of the fish's time, 64 % of that on their way and 36 % holding" in words
    assert factor_words({"odds_hour": math.nan, "passing": 0.5}) == ""
    assert factor_words({}) == ""
