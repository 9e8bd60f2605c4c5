"""Steady flow with friction: MacDonald's channel, uniform flow by Manning, and over stones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_friction import (
    friction_factor,
    friction_power,
    unit_conveyance,
)
from tests.flow.engine import exact
from tests.flow.engine.made_channels import channel, order_of, settle, strip


def macdonald_run(cells):
    cell = 1000 / cells
    x = (np.arange(cells) + 0.5) * cell
    depth, bed, foot = exact.macdonald(x)
    solver = channel(strip(bed), 0.033, cell, 2.0 * 3 * cell, foot, thin_m=1e-6)
    solver.water[:, 0] = 0.9
    solver.water[:, 1] = 2.0 / solver.water[:, 0]
    change = settle(solver, 80, correction=0.6)
    off = np.abs(solver.water[:, 0] - np.interp(solver.cells.station, x, depth))
    return float(off.mean()), solver.balance()[0], change


@pytest.mark.compiled
def test_macdonalds_channel_is_met_to_second_order_up_to_its_ends():
    runs = [macdonald_run(n) for n in (50, 100, 200, 400)]
    assert all(change < 1e-7 for _, _, change in runs)
    assert all(error < 1e-6 for _, error, _ in runs)
    assert runs[-1][0] < 1e-5
    assert order_of([run[0] for run in runs]) > 1.9


def uniform(width_cells, cells, cell, slope, n, depth):
    """Return a solver in a tilted rectangular channel, fed and held at uniform flow of `depth`."""
    x = (np.arange(cells) + 0.5) * cell
    q = depth ** (5 / 3) * np.sqrt(slope) / n
    bed = strip(slope * (cells * cell - x), width_cells)
    solver = channel(bed, n, cell, q * width_cells * cell, depth, slope=slope)
    solver.water[:, 0] = 0.8 * depth
    solver.water[:, 1] = 1.0
    return solver, q


def test_uniform_flow_in_a_tilted_channel_is_mannings():
    solver, q = uniform(2, 10, 2.0, 0.002, 0.035, 0.9)
    assert settle(solver, 60, correction=0.6) < 1e-7
    assert solver.water[:, 0] == pytest.approx(0.9, abs=1e-6)
    assert solver.water[:, 1] == pytest.approx(q / 0.9, rel=1e-6)
    assert np.abs(solver.water[:, 2]).max() < 1e-10


@pytest.mark.compiled
@pytest.mark.parametrize("slope", [0.0005, 0.004, 0.012])
def test_uniform_flow_over_slopes(slope):
    solver, q = uniform(3, 60, 2.0, slope, 0.04, 0.7)
    assert settle(solver, 200, correction=0.6) < 1e-7
    assert solver.water[:, 0] == pytest.approx(0.7, abs=1e-5)
    assert solver.water[:, 0] * solver.water[:, 1] == pytest.approx(q, rel=1e-5)
    assert solver.balance()[0] < 1e-6


@pytest.mark.compiled
def test_fast_uniform_flow_is_mannings_a_few_cells_below_the_head():
    # Froude number 1.3: water enters at critical depth and finds its own within some cells
    solver, _ = uniform(3, 60, 2.0, 0.03, 0.04, 0.7)
    assert settle(solver, 200, correction=0.6) < 1e-7
    below = solver.cells.station > 40
    assert solver.water[below, 0] == pytest.approx(0.7, abs=1e-5)
    assert solver.balance()[0] < 1e-6


@pytest.mark.compiled
@pytest.mark.parametrize(("slope", "depth"), [(0.002, 0.2), (0.002, 0.7), (0.006, 0.35)])
def test_uniform_flow_over_stones_has_the_normal_depth_of_their_law(slope, depth):
    # closed form of the published law, with its own roughness of deep water
    size = 0.13
    shear = np.sqrt(GRAVITY * depth * slope)
    q = depth * shear * 16.25 * (depth / size) / np.sqrt(42.25 + 6.25 * (depth / size) ** (5 / 3))
    deep = size ** (1 / 6) / (6.5 * np.sqrt(GRAVITY))
    x = (np.arange(60) + 0.5) * 2.0
    bed = strip(slope * (120 - x))
    solver = channel(bed, deep, 2.0, q * 6, depth, slope=slope, stone_term=6.76 * size ** (5 / 3))
    solver.water[:, 0] = 0.8 * depth
    solver.water[:, 1] = 1.0
    assert settle(solver, 200, correction=0.6) < 1e-7
    assert solver.water[:, 0] == pytest.approx(depth, abs=1e-5)
    assert solver.water[:, 0] * solver.water[:, 1] == pytest.approx(q, rel=1e-5)


@pytest.mark.compiled
def test_two_depths_side_by_side_share_the_flow_by_the_law_of_stones():
    # thread of .9 m beside a shelf of .3 m, no eddy viscosity: each at its own normal speed
    size, slope, cells, cell = 0.13, 0.002, 40, 2.0
    deep = size ** (1 / 6) / (6.5 * np.sqrt(GRAVITY))
    depth = np.repeat([0.3, 0.9], [4, 4])
    submerged = depth / size
    speed = np.sqrt(GRAVITY * depth * slope) * 16.25 * submerged
    speed /= np.sqrt(42.25 + 6.25 * submerged ** (5 / 3))
    x = (np.arange(cells) + 0.5) * cell
    bed = slope * (cells * cell - x)[None, :] + (0.9 - depth)[:, None]
    flow = float((speed * depth).sum() * cell)
    solver = channel(bed, deep, cell, flow, 0.9, slope=slope, stone_term=6.76 * size ** (5 / 3))
    solver.water[:, 0] = depth[solver.cells.row - 1]
    solver.water[:, 1] = 0.5
    settle(solver, 300, correction=0.6)
    middle = np.abs(solver.cells.station - cells * cell / 2) < 1.5 * cell
    for row, want in ((1, speed[0]), (8, speed[-1])):
        got = solver.water[middle & (solver.cells.row == row), 1]
        assert got == pytest.approx(want, rel=0.01)


@given(h=st.floats(0.02, 4), size=st.floats(0, 0.3))
def test_the_implicit_friction_has_the_right_derivative(h, size):
    term = 6.76 * size ** (5 / 3)
    if size > 0 and abs(h / size - 0.1) < 0.001:
        return  # where the law begins to be held it has a corner
    low, high = (friction_factor(0.03**2, term, h * (1 + e)) for e in (-1e-5, 1e-5))
    assert -np.log(high / low) / 2e-5 == pytest.approx(friction_power(term, h), abs=1e-4)


def test_what_a_cell_lets_pass_goes_with_its_friction():
    term = 6.76 * 0.2 ** (5 / 3)
    for h in (0.1, 0.6, 2.0):
        carried = unit_conveyance(h, 0.03**2, term)
        assert carried == pytest.approx(
            np.sqrt(GRAVITY * h / friction_factor(0.03**2, term, h)), rel=1e-12
        )
