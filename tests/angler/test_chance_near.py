"""Greatest, spread and mean over the cells about a cell, as the wading chances take them."""

import numpy as np
import pytest
from scipy.ndimage import convolve, maximum_filter

from reachmap.angler.chance import (
    Water,
    greatest_near,
    local_spread,
    smoothed_chance,
)
from reachmap.angler.rules import WadeLimit
from reachmap.angler.wading import raw_chance
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.patches import disc
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


@pytest.mark.parametrize("reach_m", [3.0, 12.0, 20.0])
def test_the_greatest_near_is_that_of_a_filter_with_discs(reach_m):
    rng = np.random.default_rng(1)
    view = pond(["".join(rng.choice(list("#.."), 24)) for _ in range(17)])
    values = rng.random(view.wet_cells[0].size)
    cells = reach_m / view.cell
    filtered, rounds = view.spread(values), max(int(cells / 5), 1)
    for _ in range(rounds):
        filtered = maximum_filter(filtered, footprint=disc(cells / rounds), mode="nearest")
    assert (greatest_near(view, values, reach_m) == filtered[view.wet]).all()


def test_a_spread_is_that_of_a_filter_also_at_the_rim():
    rng = np.random.default_rng(2)
    view = pond(["".join(rng.choice(list("#.."), 9)) for _ in range(8)])
    values = rng.random(view.wet_cells[0].size)
    weight = disc(4.0 / view.cell) / disc(4.0 / view.cell).sum()
    mean, square = (
        convolve(view.spread(one), weight, mode="nearest")[view.wet] for one in (values, values**2)
    )
    assert local_spread(view, values, 4.0) == pytest.approx(np.sqrt(square - mean**2))


def test_a_smoothed_chance_is_the_mean_of_wet_neighbours_only():
    got = smoothed_chance(pond(["..#."]), np.array([0.2, 0.4, np.nan]), 1.0)
    assert got[:2] == pytest.approx([0.3, 0.3])
    assert np.isnan(got[2])


def test_chances_are_averaged_over_a_stride_before_they_are_cut():
    view = pond(["....."] * 5)
    deep = np.zeros(25)
    deep[12] = 5.0
    water = Water(deep, np.zeros(25), np.full(25, 0.05), np.full(25, 0.05))
    raw = raw_chance(view, water, WadeLimit(depth_m=1.0), WadingSettings()).reshape(5, 5)
    about = disc(WadingSettings().smooth_m / view.cell)
    assert raw[2, 2] == pytest.approx(1 / about.sum())
    assert raw[2, 3] == pytest.approx(1 / about.sum())
    assert raw[0, 0] == pytest.approx(0.0, abs=1e-6)
