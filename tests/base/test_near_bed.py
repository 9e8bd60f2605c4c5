"""Speed near the bed: what gaugers measure over the depth, and where the law ends.

Outside values, from memory: the vertical-velocity curve of the U.S. Geological Survey (Rantz 1982,
Water-Supply Paper 2175): speed over the mean at 0.2, 0.6 and 0.8 of the depth below the surface is
1.149, 1.020 and 0.871; the mean of the two speeds at 0.2 and 0.8 is the mean within one per cent.
"""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.near_bed import near_bed_share

DEPTH, ROUGHNESS = 1.5, 0.03


def test_low_in_the_water_it_is_the_speed_that_gaugers_find():
    assert near_bed_share(DEPTH, ROUGHNESS, 0.2 * DEPTH) == pytest.approx(0.871, abs=0.02)


def test_the_mean_is_found_at_six_tenths_of_the_depth():
    share = near_bed_share(DEPTH, ROUGHNESS, 0.4 * DEPTH)
    assert share == pytest.approx(1.0, abs=0.02)
    exact = near_bed_share(DEPTH, ROUGHNESS, DEPTH / np.e)
    assert exact == pytest.approx(1.0, abs=1e-12)  # ln(z/h) = -1


def test_rougher_beds_and_deeper_water_are_slower_near_the_bed():
    depth = np.array([0.5, 1.0, 2.0, 4.0])
    assert (np.diff(near_bed_share(depth, 0.035, 0.1)) < 0).all()
    rough = np.array([0.02, 0.035, 0.06])
    assert (np.diff(near_bed_share(1.0, rough, 0.1)) < 0).all()


def test_never_beyond_the_mean_nor_below_rest_and_unknown_stays_unknown():
    assert near_bed_share(0.15, 0.035, 0.2) == 1.0
    assert near_bed_share(0.0, 0.035, 0.2) == 1.0
    assert near_bed_share(2.0, 0.2, 0.02) == 0.0
    assert np.isnan(near_bed_share(np.nan, 0.035, 0.1))
    assert np.isnan(near_bed_share(1.0, np.nan, 0.1))
