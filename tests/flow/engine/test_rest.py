"""Water at rest stays at rest, and depth is never negative, whatever the bed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.flow.engine.made_channels import channel


def island_lake(cell=1.0, size=9, level=0.6, seed=0):
    """Return a closed lake with a rough bed and an island that stands out of it."""
    place = (np.arange(size) + 0.5) * cell - size * cell / 2
    far2 = place[None, :] ** 2 + place[:, None] ** 2
    bed = np.maximum(1.2 - 1.6 * far2 / (size * cell / 2) ** 2, 0.0)
    bed = bed + 0.05 * np.random.default_rng(seed).random(bed.shape)
    solver = channel(bed, 0.03, cell, closed=True, thin_m=0.002, eddy_share=0.15)
    solver.water[:, 0] = np.maximum(level - solver.cells.bed, 0)
    return solver


@pytest.mark.parametrize("way", ["sweeps", "explicit steps"])
def test_a_lake_with_an_island_stays_at_rest_to_rounding(way):
    solver = island_lake()
    before = solver.water.copy()
    assert 0 < (before[:, 0] == 0).sum() < before.shape[0]
    if way == "sweeps":
        solver.sweep(3)
    else:
        solver.explicit(5, 0.4, together=True)
    flow = solver.water[:, :1] * solver.water[:, 1:]
    assert np.abs(flow).max() < 1e-13
    assert np.abs(solver.water[:, 0] - before[:, 0]).max() < 1e-13


@pytest.mark.compiled
def test_a_large_lake_stays_at_rest_for_a_long_time():
    solver = island_lake(0.5, 80)
    before = solver.water.copy()
    solver.explicit(300, 0.4, together=True)
    solver.sweep(100)
    assert np.abs(solver.water[:, :1] * solver.water[:, 1:]).max() < 1e-12
    assert np.abs(solver.water[:, 0] - before[:, 0]).max() < 1e-12


pits = st.lists(st.floats(0, 3), min_size=36, max_size=36)


@given(bed=pits, fill=pits, east=pits, n=st.floats(0.01, 0.2))
@settings(max_examples=25)
def test_explicit_steps_over_any_bed_keep_depth_above_zero_and_the_volume(bed, fill, east, n):
    solver = channel(np.reshape(bed, (6, 6)), n, 1.0, closed=True, thin_m=0.002)
    solver.water[:, 0] = np.array(fill)
    solver.water[:, 1] = np.where(solver.water[:, 0] > 0.002, np.array(east) - 1.5, 0.0)
    volume = solver.water[:, 0].sum()
    solver.explicit(6, 0.2, together=True)
    assert np.isfinite(solver.water).all()
    assert (solver.water[:, 0] >= 0).all()
    assert solver.water[:, 0].sum() == pytest.approx(volume, rel=1e-9, abs=1e-9)


@given(bed=pits, fill=pits, flow=st.floats(0.1, 30))
@settings(max_examples=15)
def test_sweeps_over_any_bed_keep_depth_above_zero(bed, fill, flow):
    solver = channel(np.reshape(bed, (6, 6)), 0.04, 2.0, flow, 1.0, thin_m=0.002, eddy_share=0.15)
    solver.water[:, 0] = np.array(fill)
    solver.sweep(3)
    solver.correct(0.6)
    solver.sweep(1)
    assert np.isfinite(solver.water).all()
    assert (solver.water[:, 0] >= 0).all()
