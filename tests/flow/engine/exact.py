"""Exact solutions of the shallow-water equations.

The collection of Delestre, Lucas, Ksinant, Darboux, Laguerre, Vo, James and Cordier (2013),
SWASHES: a compilation of shallow water analytic solutions, Int. J. Numer. Meth. Fluids 72, names
them with their parameters; sections given below. Formulas and parameters from memory, each checked
here against the equations themselves where that is possible (`tests/flow/engine/test_exact.py`).
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import cumulative_simpson
from scipy.optimize import brentq

from reachmap.base.physics import GRAVITY

G = GRAVITY


# -- steady flow over a bump, no friction (section 3.1.3 to 3.1.5; channel of 25 m)
# ---------------------


def bump_bed(x):
    """Return the bed: 0.2 - 0.05 (x - 10)^2 within 2 m of x = 10, else 0 [m]."""
    return np.where(np.abs(x - 10) < 2, 0.2 - 0.05 * (x - 10) ** 2, 0.0)


def _depths(bed, head, q):
    """Return the subcritical and supercritical depth at which bed + h + q^2/(2 g h^2) = head."""
    roots = np.roots([1.0, bed - head, 0.0, q * q / (2 * G)])
    real = np.sort(roots[np.abs(roots.imag) < 1e-7].real)
    return real[-1], real[-2]


def bump_subcritical(x, q=4.42, depth_out=2.0):
    """Return the depth of subcritical flow over the bump: Bernoulli's law."""
    head = depth_out + q * q / (2 * G * depth_out**2)
    return np.array([_depths(z, head, q)[0] for z in bump_bed(x)])


def bump_transcritical(x, q=1.53):
    """Return the depth of flow that passes critical depth on the crest and stays fast."""
    critical = (q * q / G) ** (1 / 3)
    head = 0.2 + 1.5 * critical
    pairs = np.array([_depths(min(z, 0.2 - 1e-9), head, q) for z in bump_bed(x)])
    return np.where(x < 10, pairs[:, 0], pairs[:, 1])


def bump_with_jump(x, q=0.18, depth_out=0.33):
    """Return the depth of flow that turns fast on the crest and jumps back, and where it jumps.

    At the jump both sides have the same push q^2/h + g h^2/2.
    """
    critical = (q * q / G) ** (1 / 3)
    upper = 0.2 + 1.5 * critical
    lower = depth_out + q * q / (2 * G * depth_out**2)

    def push(h):
        return q * q / h + 0.5 * G * h * h

    def mismatch(place):
        bed = float(bump_bed(np.array(place)))
        return push(_depths(bed, upper, q)[1]) - push(_depths(bed, lower, q)[0])

    # the slow side exists where the lower head covers the bed and critical flow on it
    first = 10 + np.sqrt((0.2 - (lower - 1.5 * critical)) / 0.05) + 1e-6
    jump = brentq(mismatch, first, 12 - 1e-6)
    beds = bump_bed(x)
    before = np.array([_depths(min(z, 0.2 - 1e-9), upper, q) for z in beds])
    behind = np.array([_depths(min(z, lower - 1.5 * critical - 1e-6), lower, q)[0] for z in beds])
    return np.where(x < 10, before[:, 0], np.where(x < jump, before[:, 1], behind)), jump


# -- MacDonald's channels: a depth is chosen, the bed follows (section 3.2; MacDonald et al. 1997)
# ------


def macdonald(x, n=0.033, q=2.0, length=1000.0):
    """Return depth and bed of the long subcritical channel with Manning's friction.

    h = (4/g)^(1/3) (1 + 1/2 exp(-16 (x/1000 - 1/2)^2)), x in metres;
    z_x = (q^2/(g h^3) - 1) h_x - q^2 n^2 / h^(10/3).
    """

    def depth(s):
        return (4 / G) ** (1 / 3) * (1 + 0.5 * np.exp(-16 * (s / 1000 - 0.5) ** 2))

    def slope(s):
        h = depth(s)
        bend = -16 * 2 * (s / 1000 - 0.5) / 1000 * 0.5 * np.exp(-16 * (s / 1000 - 0.5) ** 2)
        return (q * q / (G * h**3) - 1) * (4 / G) ** (1 / 3) * bend - q * q * n * n / h ** (10 / 3)

    fine = np.linspace(0, length, 20001)
    fall = cumulative_simpson(slope(fine), x=fine, initial=0)
    return depth(x), np.interp(x, fine, fall - fall[-1]), depth(length)


# -- unsteady
# -------------------------------------------------------------------------------------------


def ritter(x, time, depth=0.005, middle=5.0):
    """Return depth and speed after a dam at `middle` breaks on a dry bed (Ritter 1892; section
    4.1.2)."""
    c = np.sqrt(G * depth)
    place = (x - middle) / max(time, 1e-12)
    inside = (place > -c) & (place < 2 * c)
    h = np.where(place <= -c, depth, np.where(inside, 4 / (9 * G) * (c - place / 2) ** 2, 0.0))
    u = np.where(inside, 2 / 3 * (place + c), 0.0)
    return h, u


def thacker(x, y, time, length=4.0, a=1.0, depth=0.1, eta=0.5):
    """Return bed, depth and speeds of a plane surface turning in a paraboloid (Thacker 1981;
    4.2.2)."""
    turn = np.sqrt(2 * G * depth) / a
    dx, dy = x - length / 2, y - length / 2
    bed = -depth * (1 - (dx**2 + dy**2) / a**2)
    surface = (
        eta * depth / a**2 * (2 * dx * np.cos(turn * time) + 2 * dy * np.sin(turn * time) - eta)
    )
    h = np.maximum(surface - bed, 0.0)
    wet = h > 0
    u = np.where(wet, -eta * turn * np.sin(turn * time), 0.0)
    v = np.where(wet, eta * turn * np.cos(turn * time), 0.0)
    return bed, h, u, v, 2 * np.pi / turn
