"""The explicit scheme, the engine's reference, against flows that change in time."""

from __future__ import annotations

import numpy as np
import pytest

from tests.flow.engine import exact
from tests.flow.engine.made_channels import channel, order_of

pytestmark = pytest.mark.compiled


def march(solver, until):
    time = 0.0
    while time < until:
        time += solver.explicit(1, 0.4, together=True)
    return time


def dam_break(cells):
    cell = 10 / cells
    solver = channel(np.zeros((1, cells)), 1e-9, cell, closed=True, thin_m=1e-9)
    x = (solver.cells.col - 0.5) * cell
    solver.water[:, 0] = np.where(x < 5, 0.005, 0.0)
    volume = solver.water[:, 0].sum()
    time = march(solver, 6.0)
    depth, _ = exact.ritter(x, time)
    assert solver.water[:, 0].sum() == pytest.approx(volume, rel=1e-12)
    assert (solver.water[:, 0] >= 0).all()
    return float(np.abs(solver.water[:, 0] - depth).mean())


def test_a_dam_break_on_dry_ground_is_ritters():
    errors = [dam_break(n) for n in (100, 200, 400)]
    assert errors[-1] < 0.002 * 0.005 * 1.5 + 1e-6
    assert order_of(errors) > 0.9  # the front is a corner: first order is the best there is


def bowl(cells):
    cell = 4 / cells
    x = (np.arange(cells) + 0.5) * cell
    gx, gy = np.meshgrid(x, x)
    bed, depth, east, north, period = exact.thacker(gx, gy, 0.0)
    solver = channel(bed, 1e-9, cell, closed=True, thin_m=1e-5)
    at = (solver.cells.row - 1, solver.cells.col - 1)
    solver.water[:] = np.stack([depth[at], east[at], north[at]], axis=1)
    volume = solver.water[:, 0].sum()
    time = march(solver, period)
    _, depth, _, _, _ = exact.thacker(gx, gy, time)
    assert solver.water[:, 0].sum() == pytest.approx(volume, rel=1e-12)
    return float(np.abs(solver.water[:, 0] - depth[at]).sum() / depth.sum())


@pytest.mark.slow
def test_water_turning_in_a_bowl_is_thackers_after_a_whole_turn():
    errors = [bowl(n) for n in (40, 80, 160)]
    assert errors[-1] < 0.02
    assert order_of(errors) > 1.3
