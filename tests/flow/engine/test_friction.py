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
    basin = channel(strip(bed), 0.033, cell, 2.0 * 3 * cell, foot, thin_m=1e-6)
    basin.water[:, 0] = 0.9
    basin.water[:, 1] = 2.0 / basin.water[:, 0]
    change = settle(basin, 80, correction=0.6)
    off = np.abs(basin.water[:, 0] - np.interp(basin.cells.station, x, depth))
    return float(off.mean()), basin.balance()[0], change


@pytest.mark.compiled
def test_macdonalds_channel_is_met_to_second_order_up_to_its_ends():
    runs = [macdonald_run(n) for n in (50, 100, 200, 400)]
    assert all(change < 1e-7 for _, _, change in runs)
    assert all(error < 1e-6 for _, error, _ in runs)
    assert runs[-1][0] < 1e-5
    assert order_of([run[0] for run in runs]) > 1.9


def uniform(width_cells, cells, cell, slope, n, depth):
    """Return a basin in a tilted rectangular channel, fed and held at uniform flow of `depth`."""
    x = (np.arange(cells) + 0.5) * cell
    q = depth ** (5 / 3) * np.sqrt(slope) / n
    bed = strip(slope * (cells * cell - x), width_cells)
    basin = channel(bed, n, cell, q * width_cells * cell, depth, slope=slope)
    basin.water[:, 0] = 0.8 * depth
    basin.water[:, 1] = 1.0
    return basin, q


def test_uniform_flow_in_a_tilted_channel_is_mannings():
    basin, q = uniform(2, 10, 2.0, 0.002, 0.035, 0.9)
    assert settle(basin, 60, correction=0.6) < 1e-7
    assert basin.water[:, 0] == pytest.approx(0.9, abs=1e-6)
    assert basin.water[:, 1] == pytest.approx(q / 0.9, rel=1e-6)
    assert np.abs(basin.water[:, 2]).max() < 1e-10


@pytest.mark.compiled
@pytest.mark.parametrize("slope", [0.0005, 0.004, 0.012])
def test_uniform_flow_over_slopes(slope):
    basin, q = uniform(3, 60, 2.0, slope, 0.04, 0.7)
    assert settle(basin, 200, correction=0.6) < 1e-7
    assert basin.water[:, 0] == pytest.approx(0.7, abs=1e-5)
    assert basin.water[:, 0] * basin.water[:, 1] == pytest.approx(q, rel=1e-5)
    assert basin.balance()[0] < 1e-6


@pytest.mark.compiled
def test_fast_uniform_flow_is_mannings_a_few_cells_below_the_head():
    # Froude number 1.3: water enters at critical depth and finds its own within some cells
    basin, _ = uniform(3, 60, 2.0, 0.03, 0.04, 0.7)
    assert settle(basin, 200, correction=0.6) < 1e-7
    below = basin.cells.station > 40
    assert basin.water[below, 0] == pytest.approx(0.7, abs=1e-5)
    assert basin.balance()[0] < 1e-6
