"""Friction of the bed, what it lets pass, and the eddy viscosity that follows from it.

Manning's n grows in water shallow over stones: n^2(h) = n^2 (1 + x), x = term / h^(5/3), eq. (3a),
with n that of deep water (`reachmap.base.resistance`). A term of 0 is Manning's formula.
"""

from __future__ import annotations

import numpy as np

from reachmap.base._kernels_resistance import shallow_excess
from reachmap.base.arrays import IntArray
from reachmap.base.physics import GRAVITY
from reachmap.base.resistance import EXCESS_MOST
from reachmap.flow.engine.compiled import kernel
from reachmap.flow.engine.mesh import Mesh, State


@kernel
def friction_factor(roughness2: float, stone_term: float, depth: float) -> float:
    """Return g n^2 / h^(7/3), eq. (3): times |q| q it is friction [m2/s2], q = h V (Manning 1891).

    Held at its value for 1 mm in thinner water.
    """
    h = max(depth, 1e-3)
    root = np.cbrt(h)
    rough2 = roughness2 * (1.0 + shallow_excess(stone_term, h, root))
    return float(GRAVITY * rough2 / (h * h * root))


@kernel
def friction_power(stone_term: float, depth: float) -> float:
    """Return the power of 1/depth that the friction factor goes with, eq. (16): 7/3 to 4.

    7/3 + 5/3 x/(1 + x), the derivative of eq. (3a); 7/3 where x is held.
    """
    excess = shallow_excess(stone_term, depth, np.cbrt(depth))
    if excess <= 0.0 or excess >= EXCESS_MOST:
        return 7.0 / 3.0
    return 7.0 / 3.0 + 5.0 / 3.0 * excess / (1.0 + excess)


@kernel
def unit_conveyance(depth: float, roughness2: float, stone_term: float) -> float:
    """Return depth^(5/3) / n: what a metre of width carries at slope 1 (Manning 1891) [m2/s]."""
    root = np.cbrt(depth)
    rough2 = roughness2
    if stone_term > 0.0 and depth > 0.0:
        rough2 *= 1.0 + shallow_excess(stone_term, depth, root)
    return float(depth * root * root / np.sqrt(rough2))


@kernel
def update_eddy_viscosity(
    mesh: Mesh, state: State, coefficient: float, thin: float, which: IntArray
) -> None:
    """Write eddy viscosity times depth, eq. (12) [m3/s]; 0 in water no deeper than `thin` [m].

    nu = coefficient u* h with u* = sqrt(g) n |V| / h^(1/6) (Manning); `coefficient` about 0.15
    (Fischer et al. 1979 for straight channels, from memory). `which`: numbers of the cells.
    """
    water = state.water
    for i in which:
        h = water[i, 0]
        if h > thin and coefficient > 0.0:
            speed = np.sqrt(water[i, 1] * water[i, 1] + water[i, 2] * water[i, 2])
            root = np.cbrt(h)
            rough2 = mesh.roughness2[i] * (1.0 + shallow_excess(mesh.stone_term[i], h, root))
            state.eddy_viscosity[i] = coefficient * np.sqrt(GRAVITY * rough2 / root) * speed * h * h
        else:
            state.eddy_viscosity[i] = 0.0
