"""Steady flow with Manning's friction: MacDonald's channel, and uniform flow in tilted channels."""

from __future__ import annotations

import numpy as np
import pytest

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
