"""Speed near the bed against the law of the wall, integrated."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.physics import GRAVITY, KARMAN
from reachmap.water.near_bed import near_bed_share


@given(
    depth=st.floats(0.3, 4.0),
    grains=st.floats(1e-4, 3e-3),
    shear=st.floats(0.01, 0.3),
    height=st.floats(0.05, 0.2),
)
def test_it_is_the_law_of_the_wall_over_its_mean(depth, grains, shear, height):
    z = np.geomspace(grains, depth, 20001)
    u = shear / KARMAN * np.log(z / grains)
    mean = np.trapezoid(u, z) / (depth - grains)
    # the n whose shear speed this is: u* = U n sqrt(g) / h^(1/6)
    n = shear * depth ** (1 / 6) / (mean * np.sqrt(GRAVITY))
    exact = shear / KARMAN * np.log(height / grains) / mean
    got = float(near_bed_share(np.array([depth]), np.array([n]), height)[0])
    assert got == pytest.approx(min(max(exact, 0.0), 1.0), abs=0.02)


def test_the_mean_speed_runs_at_the_depth_over_e():
    depth = np.array([0.5, 1.0, 3.0])
    for one in depth:
        share = near_bed_share(np.array([one]), np.array([0.035]), float(one / np.e))
        assert share == pytest.approx(1.0)


def test_rougher_and_deeper_is_slower_near_the_bed_and_never_backwards():
    rough = near_bed_share(np.full(4, 1.2), np.array([0.02, 0.035, 0.06, 0.4]), 0.15)
    assert (np.diff(rough) < 0).all()
    assert rough[-1] == 0.0
    assert near_bed_share(np.array([0.1]), np.array([0.035]), 0.15) == pytest.approx(1.0)
    assert np.isnan(near_bed_share(np.array([np.nan]), np.array([0.035]), 0.15)).all()
