"""Spans of ranks: readings of the fish and doubt of the map."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.angler.interception.ranks import gone_chance, overlapping, rank_spans
from reachmap.angler.interception.settings import RankSettings

SETTINGS = RankSettings(log_sd=0.5, gone_one=0.5)
"""Numbers of the tests' own: those shipped are fitted, and may be fitted anew."""
SURE = replace(SETTINGS, log_sd=0.0, gone_one=0.0)
MANY = np.full(4, 25, dtype=np.int32)


def rates(*each, readings=7):
    """Return odds an hour that are the same by every reading."""
    return np.tile(np.array(each, dtype=float)[:, None], (1, readings))


def test_without_doubt_the_order_is_that_of_the_odds():
    got = rank_spans(rates(3.0, 1.0, 2.0), np.array([5, 1, 9]), SURE)
    assert got.low.tolist() == got.high.tolist() == [1, 3, 2]
    assert got.odds_low == pytest.approx([100.0, 100 / 3, 200 / 3])
    assert got.odds_high == pytest.approx(got.odds_low)


def test_readings_that_disagree_widen_a_span():
    both = np.array([[3.0, 1.0], [2.0, 2.0]])
    got = rank_spans(both, np.array([9, 9]), SURE)
    assert got.low.tolist() == [1, 1]
    assert got.high.tolist() == [2, 2]


def test_doubt_of_the_map_widens_spans_and_never_loses_the_maps_own_order():
    mine = rates(1.0, 0.8, 0.6, 0.1)
    sure, doubted = (rank_spans(mine, MANY, one) for one in (SURE, SETTINGS))
    assert (doubted.low <= sure.low).all()
    assert (doubted.high >= sure.high).all()
    assert (doubted.high - doubted.low).sum() > 2
    assert doubted.low[3] >= 3  # a tenth of the best stays among the last
    assert (doubted.odds_low < sure.odds_low).all()
    again = rank_spans(mine, MANY, SETTINGS)
    assert again.high.tolist() == doubted.high.tolist()


def test_a_span_holds_the_rank_by_the_mean_of_the_readings():
    mine = np.array([[1.0] * 6 + [0.0], [0.9] * 6 + [9.0]])  # first by six, second by their mean
    got = rank_spans(mine, np.array([9, 9]), replace(SURE, inside=0.6))
    assert got.low.tolist() == [1, 1]
    assert got.high.tolist() == [2, 2]
    assert got.odds_low[0] <= 100 * mine[0].mean() / mine[1].mean()


def test_a_run_of_few_places_is_less_sure_than_a_long_one():
    few = np.array([1, 25, 25, 25], dtype=np.int32)
    assert gone_chance(few, SETTINGS)[0] == pytest.approx(SETTINGS.gone_one)
    assert gone_chance(few, SETTINGS)[1] == pytest.approx(SETTINGS.gone_one**5)
    best = rates(1.0, 0.2, 0.2, 0.2)
    assert rank_spans(best, few, SETTINGS).high[0] > rank_spans(best, MANY, SETTINGS).high[0]


def test_true_ranks_lie_in_the_spans_as_often_as_they_say():
    """Truths drawn from the very law that the spans assume."""
    rng = np.random.default_rng(5)
    mine = rates(*rng.uniform(0.2, 1.0, 9), readings=1)
    places = np.full(9, 9, dtype=np.int32)
    got = rank_spans(mine, places, replace(SETTINGS, gone_one=0.0, draws=2000))
    off = SETTINGS.log_sd * rng.standard_normal((4000, 9))
    truth = (-mine[:, 0] * np.exp(off)).argsort(axis=1).argsort(axis=1) + 1
    held = ((truth >= got.low) & (truth <= got.high)).mean()
    assert SETTINGS.inside <= held <= SETTINGS.inside + 0.15  # ranks are whole numbers


def test_runs_whose_spans_overlap_cannot_be_told_apart():
    both = overlapping([1, 2, 3, 0], [2, 3, 3, 0])
    assert both.tolist() == [
        [True, True, False, False],
        [True, True, True, False],
        [False, True, True, False],
        [False, False, False, False],
    ]
    assert rank_spans(np.zeros((0, 7)), np.zeros(0, dtype=np.int32), SETTINGS).low.size == 0
