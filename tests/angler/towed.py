"""Lines of one part in even water, for tests of the line model against theory."""

from __future__ import annotations

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from reachmap.angler._kernels_swing import swing_line
from reachmap.angler.line import Part, join_parts
from reachmap.base.physics import GRAVITY, WATER_DENSITY
from reachmap.base.units import to_si

NU = 1.4e-6
WIDE = 0.98e-3
GRAIN_KG = 6.479891e-5  # exactly, international grain
MASS_M = 14 * GRAIN_KG / to_si(1.0, "ft")  # 14 grains a foot
HEAVY_M = (MASS_M - WATER_DENSITY * math.pi / 4 * WIDE**2) * GRAVITY


def drag(speed: float) -> float:
    """Return the drag coefficient the theory is worked out with, as the kernel has it."""
    return 1 + 10 * max(1.0, speed * WIDE / NU + 1) ** (-2 / 3)


def sinking_speed() -> float:
    """Return the speed at which level line sinks [m/s], by a root finder."""
    return brentq(lambda v: 0.5 * WATER_DENSITY * drag(v) * WIDE * v * v - HEAVY_M, 1e-4, 3)


def chain(length: float, links: int, *, fly_heavy_kg: float = 0.0):
    """Return a sinking line of one part."""
    part = Part(length, WIDE, MASS_M, floats=False)
    heavy = fly_heavy_kg * GRAVITY
    return join_parts([(part, length / links)], fly_mass=1.5 * fly_heavy_kg, fly_heavy=heavy)


def even_water(speed: float, depth: float, size: int = 60):
    """Return east, north, depth rasters of even water, 1 m cells, corner at (-20, -30)."""
    shape = (size, size)
    return np.full(shape, speed), np.zeros(shape), np.full(shape, depth)


def hold(line, place, water, *, seconds, power=0.0, skin=0.015, area=0.0, dt=0.02):
    """Return nodes and records after holding the first node still for so long."""
    x = np.ascontiguousarray(place, dtype=float).copy()
    track = np.zeros((int(seconds / 0.1) + 2, 10))
    rod = np.array([x[0, 0] - 1.0, x[0, 1], x[0, 2], 0.0, 1.0, 0.0, 0.0, 0.0, 1.0])
    count, _ = swing_line(
        x,
        line.link.copy(),
        line.wide,
        line.mass,
        line.heavy,
        line.floats,
        *water,
        -20.0,
        -30.0,
        1.0,
        rod,
        np.zeros((1, 2)),
        area,
        power,
        skin,
        NU,
        dt,
        seconds,
        0.0,
        0.0,
        1,
        1,
        0.1,
        track,
    )
    return x, track[:count]


def steady_cable(speed, depth, length, area, fly_heavy_kg, skin, power):
    """Return depth of the free end [m] and pull at the top [N] of a towed cable, by solve_ivp.

    Force balance along a perfectly flexible cable: d(T t)/ds = -(drag + weight); normal drag
    0.5 rho Cd d |u_n| u_n, skin drag 0.5 rho pi Ct d |u_t| u_t; shot from the free end so that the
    top
    lies at the surface.
    """
    weight = np.array([0.0, -HEAVY_M])

    def current(z):
        if power <= 0:
            return speed
        return speed * (1 + power) * max(0.02, (depth + min(0.0, z)) / depth) ** power

    def force(way, z):
        u = np.array([current(z), 0.0])
        along = u @ way
        across = u - along * way
        size = float(np.linalg.norm(across))
        normal = 0.5 * WATER_DENSITY * drag(size) * WIDE * size * across
        return (
            normal + 0.5 * WATER_DENSITY * math.pi * skin * WIDE * abs(along) * along * way + weight
        )

    def shoot(start):
        pull = -np.array(
            [0.5 * WATER_DENSITY * area * current(start) ** 2, -fly_heavy_kg * GRAVITY]
        )

        def rates(_, y):
            way = y[2:] / np.linalg.norm(y[2:])
            return [*way, *(-force(way, y[1]))]

        return solve_ivp(rates, (0, length), [0.0, start, *pull], rtol=1e-8, atol=1e-10)

    start = brentq(lambda z: shoot(z).y[1, -1], -min(length, depth) * 0.999, -1e-3)
    return -start, float(np.hypot(*shoot(start).y[2:, -1]))
