"""The slope that tells which way a line was drawn, against the reference library's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve
from scipy.stats import theilslopes

from reachmap.base.trend import median_slope
from reachmap.ground import dem_checks


@pytest.mark.parametrize("seed", range(6))
def test_steepness_is_the_median_of_all_pairs_as_in_the_library(seed):
    rng = np.random.default_rng(seed)
    station = rng.choice(np.arange(40.0), size=9 + seed)  # some stand twice
    height = -0.003 * station + rng.normal(0, 0.1, station.size)
    height[0] = 80.0
    assert median_slope(station, height) == float(theilslopes(height, station)[0])
    holes = np.r_[height, np.nan], np.r_[station, 50.0]
    assert median_slope(holes[1], holes[0]) == median_slope(station, height)


def test_steepness_of_one_place_is_not_known():
    assert median_slope(np.array([3.0, 3.0]), np.array([1.0, 2.0])) == 0.0
    assert median_slope(np.array([3.0]), np.array([1.0])) == 0.0


@pytest.mark.parametrize("shape", [(9, 14), (30, 7)])
def test_shifts_of_the_dem_are_those_of_the_librarys_convolution(shape):
    rng = np.random.default_rng(1)
    pattern, weight, height, known = rng.random((4, *shape))
    ours = dem_checks._correlations(pattern, weight, height, known, 3)

    def library(fixed, moved):
        return fftconvolve(np.pad(moved, 3), fixed[::-1, ::-1], mode="valid")

    total = library(weight, known)
    mean_p, mean_h = library(pattern, known) / total, library(weight, height) / total
    cross = library(pattern, height) / total - mean_p * mean_h
    square = known * (height / known) ** 2
    squared = weight * (pattern / weight) ** 2
    spread_h = library(weight, square) / total - mean_h**2
    spread_p = library(squared, known) / total - mean_p**2
    enough = (total > 0.3 * total.max()) & (np.sqrt(spread_h * spread_p) > 1e-9)
    wanted = np.where(enough, cross / np.sqrt(spread_h * spread_p), np.nan)
    assert ours.shape == (7, 7)
    np.testing.assert_allclose(ours, wanted, rtol=1e-9, atol=1e-12)
