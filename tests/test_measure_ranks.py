"""The judge of rank spans, on tables whose answer is known."""

import numpy as np
import pandas as pd
import pytest

from scripts import measure_ranks as judge


def table(true_of):
    """Return two flows of five runs; `true_of` turns mapped odds into true ones."""
    mapped = np.array([16.0, 8.0, 4.0, 2.0, 1.0])
    rows = []
    for flow in (0, 1):
        for odds, true in zip(mapped, true_of(mapped), strict=True):
            named = {"river": "made", "seed": 1, "given": "DEM", "flow": flow, "places": 9}
            rows.append(named | dict.fromkeys(judge.MAP, odds) | dict.fromkeys(judge.TRUE, true))
    return pd.DataFrame(rows)


LAW = ("readings alone", judge.of_readings)


def test_a_true_map_is_held_and_told_apart():
    got = pd.DataFrame(judge.judged(table(lambda odds: 3 * odds), LAW))
    assert (got["held"] == 1).all()
    assert (got["width"] == 0).all()
    assert (got["equal"] == 0).all()
    assert (got["apart_agrees"] == 1).all()


def test_a_map_turned_round_holds_only_the_middle_run():
    got = pd.DataFrame(judge.judged(table(lambda odds: odds[::-1]), LAW))
    assert got["held"].unique() == pytest.approx([0.2])
    assert (got["apart_agrees"] == 0).all()


def test_the_doubt_fitted_grows_with_the_errors_and_counts_runs_that_are_gone():
    sure = judge.fitted(table(lambda odds: odds))
    wrong = judge.fitted(table(lambda odds: odds[::-1]))
    assert wrong.log_sd > 0.6 > sure.log_sd
    assert sure.gone_one == pytest.approx(0.01, abs=0.02)
    gone = judge.fitted(table(lambda odds: np.where(odds == 4, 0.0, odds)))
    assert gone.gone_one == pytest.approx(0.2 ** (1 / 3), abs=0.01)  # a fifth of runs of 9 places
