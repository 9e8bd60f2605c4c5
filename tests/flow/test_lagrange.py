"""Weights of Lagrange's polynomial against numpy's polynomials through the same points."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from reachmap.flow.lagrange import slope_weights, value_weights

NODES = np.array([-0.7, 0.1, 0.9, 2.3])


@pytest.mark.parametrize("count", [2, 3, 4])
def test_value_and_slope_are_those_of_the_polynomial_through_the_points(count):
    nodes = NODES[:count]
    values = np.random.default_rng(count).normal(size=count)
    through = Polynomial.fit(nodes, values, count - 1)
    for at in (-0.4, 0.1, 0.5, 0.85):
        assert value_weights(nodes, at) @ values == pytest.approx(through(at))
    for k in range(count):
        slope = slope_weights(nodes, k) @ values
        assert slope == pytest.approx(through.deriv()(nodes[k]))
