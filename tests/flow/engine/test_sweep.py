"""The sweep itself: waves that run ahead of it do not grow, and parts of a grid can be swept."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.flow.engine import _kernels_implicit
from reachmap.flow.engine.steady import RESTLESS_SHARE, calm_restless
from tests.flow.engine.made_channels import channel, strip

JET = 1.0
"""Speed of the jet [m/s]."""


def still_pool(length=60, depth=0.1):
    """Return a solver of a closed pool on a flat bed, still."""
    solver = channel(strip(np.zeros(length)), 0.03, 1.0, closed=True)
    solver.water[:, 0] = depth
    return solver


def jet(down: bool, depth: float):
    """Return a pool with a jet at the end where a sweep begins, running the way of the sweep."""
    solver = still_pool()
    col = solver.cells.col
    ends = col < col.min() + 3 if down else col > col.max() - 3
    solver.water[ends, 0] = depth
    solver.water[ends, 1] = JET if down else -JET
    return solver


@pytest.mark.parametrize("depth", [0.05, 0.1])
@pytest.mark.parametrize("down", [True, False])
def test_a_jet_that_runs_into_still_water_is_never_quicker_than_it_was(down, depth):
    """A sweep hands it on from cell to cell in long steps; a step that overshoots would grow there.

    Law: it gives its momentum to more and more water, and friction takes some.
    """
    solver = jet(down, depth)
    _kernels_implicit.sweep(solver.mesh, solver.state, solver.cfl, down, solver.everywhere)
    assert 0.05 * JET < solver.speed.max() <= JET
    for _ in range(5):
        solver.sweep(1, hold_inflow=True)
        assert solver.speed.max() <= JET


def test_swept_one_by_one_by_number_all_cells_are_the_whole():
    whole, part = jet(False, 0.1), jet(False, 0.1)
    whole.sweep(3, hold_inflow=True)
    part.sweep_some(3, part.everywhere)
    np.testing.assert_array_equal(whole.water, part.water)


def test_cells_that_are_not_swept_hold_still():
    solver = jet(False, 0.1)
    col = solver.cells.col
    which = np.flatnonzero(col > col.max() - 8).astype(np.int32)  # the jet and water before it
    before = solver.water.copy()
    solver.sweep_some(2, which)
    moved = np.flatnonzero((solver.water != before).any(axis=1))
    assert moved.size > 0
    assert set(moved) <= set(which)


@pytest.mark.parametrize("share", [0.5 * RESTLESS_SHARE, 1.5 * RESTLESS_SHARE])
def test_only_a_small_restless_part_is_calmed_and_it_does_not_count_as_moved(share):
    solver = jet(False, 0.1)
    count = solver.cells.count
    moved = np.zeros((count, 2), np.float32)
    moved[-int(share * count) :, 0] = 0.05
    first, before = solver.water.copy(), solver.water.astype(np.float32)
    calm_restless(solver, before, moved)
    swept = bool((solver.water != first).any())
    assert swept is (share < RESTLESS_SHARE)
    np.testing.assert_array_equal(before, solver.water.astype(np.float32))


def test_thin_water_and_a_calm_river_are_left_alone():
    solver = still_pool(depth=0.02)
    first, before = solver.water.copy(), solver.water.astype(np.float32)
    calm_restless(solver, before, np.full((solver.cells.count, 2), 0.05, np.float32))
    np.testing.assert_array_equal(solver.water, first)
    solver = jet(False, 0.1)
    first = solver.water.copy()
    calm_restless(solver, before, np.zeros((solver.cells.count, 2), np.float32))
    np.testing.assert_array_equal(solver.water, first)
