"""Greatest, spread and mean over the cells about a cell, as the wading chances take them."""

import numpy as np
import pytest

from reachmap.angler.chance import (
    disc,
    greatest_near,
    local_spread,
    smoothed_chance,
)
from tests.angler.test_wading import pond


def test_a_disc_never_shrinks_to_its_own_cell():
    assert disc(3.0 / 4.0).sum() == 5  # place error of 3 m at cells of 4 m
    assert disc(1.5).sum() == 9


def test_a_spread_is_the_standard_deviation_around():
    values = np.zeros((5, 5))
    values[2, 2] = 1.0
    got = local_spread(pond(["....."] * 5), values.ravel(), 1.0).reshape(5, 5)
    assert got[2, 2] == pytest.approx(np.std([1, 0, 0, 0, 0]))
    assert got[0, 0] == 0


def test_the_greatest_near_reaches_as_far_as_it_says():
    view = pond(["." * 31])
    got = greatest_near(view, np.eye(1, 31)[0], 20.0)
    assert got[9] == 1.0
    assert got[12] == 0.0


def test_a_smoothed_chance_is_the_mean_of_wet_neighbours_only():
    got = smoothed_chance(pond(["..#."]), np.array([0.2, 0.4, np.nan]), 1.0)
    assert got[:2] == pytest.approx([0.3, 0.3])
    assert np.isnan(got[2])
