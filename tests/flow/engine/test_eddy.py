"""Eddy viscosity: the shear between smooth and rough water is as wide as its equation says."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from reachmap.base.physics import GRAVITY
from tests.flow.engine.made_channels import channel, settle

DEPTH, SLOPE, WIDE, LONG = 1.0, 0.002, 40, 200


def rough_at(y):
    return 0.045 + 0.015 * np.tanh(np.asarray(y) / 2.0)


def exact_speed(y, share):
    """Return the speed across developed uniform flow [m/s].

    g h S - Cf U^2 + d/dy (k u* h^2 dU/dy) = 0 with u* = sqrt(Cf) U, Cf = g n^2 / h^(1/3), no shear
    at the sides: solved as a boundary value problem by scipy, independent of the engine.
    """

    def friction(place):
        return GRAVITY * rough_at(place) ** 2 / DEPTH ** (1 / 3)

    def stir(place, speed):
        return share * np.sqrt(friction(place)) * np.abs(speed) * DEPTH**2

    def rise(place, state):
        speed, shear = state
        drive = GRAVITY * DEPTH * SLOPE - friction(place) * speed * np.abs(speed)
        return np.stack([shear / stir(place, speed), -drive])

    places = np.linspace(-WIDE / 2, WIDE / 2, 201)
    alone = DEPTH ** (2 / 3) * np.sqrt(SLOPE) / rough_at(places)
    found = solve_bvp(
        rise, lambda a, b: np.array([a[1], b[1]]), places, np.stack([alone, 0 * alone]), tol=1e-8
    )
    assert found.success
    return found.sol(y)[0]


@pytest.mark.compiled
@pytest.mark.parametrize("stones_m", [0.0, 0.5])
def test_the_shear_layer_has_the_speeds_of_its_equation(stones_m):
    share = 3.0  # far above a river's, so that metres resolve the layer
    x, y = np.arange(LONG) + 0.5, np.arange(WIDE) + 0.5 - WIDE / 2
    bed = np.broadcast_to(SLOPE * (LONG - x), (WIDE, LONG))
    rough = np.broadcast_to(rough_at(y)[:, None], bed.shape)
    speed = exact_speed(y, share)
    # over stones: so much less rough in deep water that n is the same at this depth
    term = 6.76 * stones_m ** (5 / 3)
    deep = rough / np.sqrt(1 + term / DEPTH ** (5 / 3))
    solver = channel(
        bed, deep, 1.0, float(speed.sum() * DEPTH), DEPTH, eddy_share=share, stone_term=term
    )
    solver.water[:, 0] = DEPTH
    solver.water[:, 1] = speed.mean()
    settle(solver, 60, correction=0.6, still=1e-5)
    across = solver.cells.spread(solver.water[:, 1])[1:-1, 1:-1][:, 150]
    assert across == pytest.approx(speed, rel=0.015)
    # and it is the viscosity that does it: each thread by itself would run much farther off
    alone = DEPTH ** (2 / 3) * np.sqrt(SLOPE) / rough_at(y)
    assert np.abs(alone / speed - 1).max() > 0.08
