"""Lagrange's polynomial through a few nodes: weights of its value and of its slope."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import FloatArray


def value_weights(nodes: FloatArray, at: float) -> FloatArray:
    """Return the weights of Lagrange's polynomial through `nodes` at a point."""
    apart = nodes[:, None] - nodes[None, :]
    np.fill_diagonal(apart, 1.0)
    towards = np.broadcast_to(at - nodes, apart.shape).copy()
    np.fill_diagonal(towards, 1.0)
    return np.asarray((towards / apart).prod(axis=1))


def slope_weights(nodes: FloatArray, k: int) -> FloatArray:
    """Return the weights of the slope of Lagrange's polynomial through `nodes` at node `k`.

    From the polynomial's barycentric form: (c_j / c_k) / (x_k - x_j) for j other than k, with
    c_j = 1 / prod (x_j - x_i) over i other than j; the weight of k makes the sum zero (Berrut and
    Trefethen 2004, Barycentric Lagrange interpolation, SIAM Review 46:501, section 9.3, from
    memory).
    """
    apart = nodes[:, None] - nodes[None, :]
    np.fill_diagonal(apart, 1.0)
    c = 1.0 / apart.prod(axis=1)
    weights = c / c[k] / apart[k]
    weights[k] = 0.0
    weights[k] = -weights.sum()
    return np.asarray(weights)
