"""Steady flow over a bump without friction, against Bernoulli's law."""

from __future__ import annotations

import numpy as np
import pytest

from tests.flow.engine import exact
from tests.flow.engine.made_channels import channel, order_of, settle, strip

pytestmark = pytest.mark.compiled


def over_the_bump(depth, q, foot, cells):
    """Return the mean error of depth [m], the worst section's error, and the last change."""
    cell = 25 / cells
    x = (np.arange(cells) + 0.5) * cell
    solver = channel(strip(exact.bump_bed(x)), 1e-9, cell, q * 3 * cell, foot, thin_m=1e-6)
    solver.water[:, 0] = max(foot, 0.66) - solver.cells.bed
    solver.water[:, 1] = q / solver.water[:, 0]
    change = settle(solver, 900)
    off = solver.water[:, 0] - np.interp(solver.cells.station, x, depth(x))
    return float(np.abs(off).mean()), solver.balance()[0], change


def test_subcritical_flow_converges_to_rounding_and_to_second_order():
    runs = [over_the_bump(exact.bump_subcritical, 4.42, 2.0, n) for n in (50, 100, 200)]
    assert all(change < 1e-7 and error < 1e-8 for _, error, change in runs)
    assert runs[-1][0] < 1e-4
    assert order_of([run[0] for run in runs]) > 1.8


def test_flow_that_turns_fast_on_the_crest_converges():
    runs = [over_the_bump(exact.bump_transcritical, 1.53, -9.0, n) for n in (50, 100, 200)]
    assert all(change < 1e-7 for _, _, change in runs)
    assert runs[-1][0] < 5e-4
    assert order_of([run[0] for run in runs]) > 1.5


def test_a_jump_stands_where_momentum_puts_it():
    runs = [
        over_the_bump(lambda x: exact.bump_with_jump(x)[0], 0.18, 0.33, n) for n in (50, 100, 200)
    ]
    assert all(error < 1e-8 for _, error, _ in runs)
    # first order at best where a jump falls within a cell
    assert runs[-1][0] < 1e-3
    assert order_of([run[0] for run in runs]) > 0.8
