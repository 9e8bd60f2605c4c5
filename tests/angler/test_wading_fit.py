"""How observed chances are fitted: each river is judged by odds that never saw it."""

import numpy as np
import pytest

from scripts.measure_wading import LEAST_CELLS, STEPS, fit, fitted, stated

MIDDLE = (STEPS[1:] + STEPS[:-1]) / 2


def cells(share, total=10_000):
    """Counts of a river of which this share is beyond in every step."""
    count = np.full(MIDDLE.size, total)
    return np.array([count, np.round(share * count)])


def test_a_river_left_out_does_not_move_the_odds():
    kind, cruel = cells(0.01), cells(0.5)
    alone = fit({"kind": kind})
    assert fit({"kind": kind, "cruel": cruel}, leave_out="cruel") == alone
    assert fit({"kind": kind, "cruel": cruel}) != alone


def test_the_chance_stated_of_a_river_comes_from_the_others():
    counts = {"seen": {"kind": cells(0.01), "cruel": cells(0.5)}}
    told, observed, _ = stated(counts)["seen"]["cruel"]
    assert told == pytest.approx(0.01)
    assert observed == pytest.approx(0.5)


def test_the_worst_of_the_rivers_counts():
    rivers = {"a": cells(0.0), "b": cells(0.0), "c": cells(0.0), "d": cells(0.4)}
    assert dict(fit(rivers))[MIDDLE[3]] == pytest.approx(0.4)


def test_a_step_that_is_worse_than_those_above_it_is_a_chance_of_few_cells():
    """Shares rise within a river: 4 of 50 beside 1 of 1,000 above it are 5 of 1,050."""
    counted, worse = cells(0.0), cells(0.0)
    counted[1, 5:] = worse[1, 5:] = 5000
    counted[:, 3], counted[:, 4] = (50, 4), (1000, 1)
    assert dict(fit({"a": counted}))[MIDDLE[3]] == pytest.approx(5 / 1050, rel=0.01)
    worse[:, 3], worse[:, 4] = (50, 4), (1000, 200)
    assert dict(fit({"a": worse}))[MIDDLE[3]] == pytest.approx(4 / 50)


def test_too_few_cells_keep_the_raw_chance():
    told = fit({"a": cells(0.0, total=LEAST_CELLS - 1)})
    assert [seen for _, seen in told[1:]] == pytest.approx(MIDDLE)


def test_every_class_of_bed_has_its_own_odds():
    counts = {"seen": {"a": cells(0.0)}, "unseen": {"a": cells(0.2)}}
    tables = fitted(counts)
    assert tables["seen"][5][1] == 0.0
    assert tables["unseen"][5][1] == pytest.approx(0.2)
