"""The trial of tips chosen by the odds: its bookkeeping."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reachmap.angler import search
from reachmap.angler.tip_search import group_tips
from scripts.measure_tips import Tally, by_odds, one_of_likely, told

TIPS = [np.array([0, 2, 4], dtype=np.int32)]


def scores(*values):
    """Return the odds a minute of five tips, those of 1 and 3 not tried."""
    return np.array([[values[0], np.nan, values[1], np.nan, values[2]]])


@pytest.mark.parametrize(
    ("values", "tip"),
    [((1.0, 1.01, 0.5), 0), ((1.0, 1.05, 0.5), 2), ((0.0, 0.0, 0.1), 4), ((1.0, 1.05, 1.2), 4)],
)
def test_a_heavier_tip_must_meet_more(values, tip):
    assert by_odds(scores(*values), TIPS, 0.02).tolist() == [tip]


def test_what_was_never_tried_leaves_the_lightest():
    assert by_odds(np.full((1, 5), np.nan), TIPS, 0.02).tolist() == [0]


def test_the_usual_choice_is_back_after_a_trial():
    with one_of_likely(1):
        assert search.group_tips is not group_tips
    assert search.group_tips is group_tips


def test_groups_that_meet_nothing_are_not_counted():
    tally = Tally()
    usual, other = np.array([0, 0]), np.array([2, 2])
    tally.add(usual, other, np.vstack([scores(1.0, 2.0, 0.0), scores(0.0, 0.0, 0.0)]))
    assert (tally.groups, tally.other, tally.gain) == (1, 1, pytest.approx(np.log(2)))


def test_a_row_tells_better_and_worse_and_weighs_each_flow_alike():
    rows = pd.DataFrame(
        {
            "river": "a",
            "flow": ["1", "1", "1", "2"],
            "swim": [1.0, 0.5, 0.25, 100.0],
            "odds": [1.2, 0.4, 0.25, 100.0],
            "most": [1.2, 0.5, 0.25, 100.0],
        }
    )
    cells = told(rows, Tally(10, 4, 4 * np.log(1.5))).split(" | ")
    assert cells[:5] == ["10", "40 %", "1.50", "4", "1 / 1"]
    assert cells[5] == f"{2.85 / 2.75:.2f}"  # (1.2 + 0.4 + 0.25 + 1) / (1 + 0.5 + 0.25 + 1)
    assert cells[6] == f"{np.sqrt(1.2):.2f}"
    assert cells[7] == "1.00"
    assert cells[8] == f"{2.95 / 2.75:.2f}"
