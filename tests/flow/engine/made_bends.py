"""Round bends with banks of 1 in 4, and what theory says of the flow far into them."""

from __future__ import annotations

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from reachmap.base.physics import GRAVITY
from reachmap.flow.engine.bend import cell_curvature, helix_factor
from reachmap.flow.engine.cells import Frame, cells_of
from reachmap.flow.engine.grid_solver import BoundaryValues, GridSolver
from reachmap.flow.engine.settings import EngineSettings

BANK = 8.0
"""Width of each sloping bank [m]."""


class Bend:
    """A bend to the left about the origin: `radius` and flat `width` [m], `turn` [degrees]."""

    def __init__(self, radius, width, turn, *, depth, rough, slope, cell, closure=False):
        self.radius, self.width, self.rough, self.slope = radius, width, rough, slope
        whole = np.radians(turn)
        reach = radius + width / 2 + BANK + 4 + 4 * cell
        place = np.arange(-reach, reach, cell)
        x, y = np.meshgrid(place, place)
        away, angle = np.hypot(x, y), np.mod(np.arctan2(y, x), 2 * np.pi)
        angle = np.where(angle > whole / 2 + np.pi, angle - 2 * np.pi, angle)
        station, offset = radius * angle, radius - away
        length = radius * whole
        inside = (np.abs(offset) < width / 2 + BANK) & (station > 0) & (station < length)
        bed = slope * (length - station) + self.bank(away)
        frame = Frame(bed, np.full(x.shape, rough), station, offset, inside, 0.0, length, cell)
        cells = cells_of(frame, (0.0, 1.0), (-np.sin(whole), np.cos(whole)))
        speed = depth ** (2 / 3) * np.sqrt(slope) / rough
        curve = cell_curvature(cells, np.array([0.0, length]), np.full(2, 1 / radius))
        self.solver = GridSolver(
            cells,
            BoundaryValues(1.1 * speed * depth * width, depth, slope),
            EngineSettings(eddy_share=0.0, bend_closure=closure),
            curvature=curve,
        )
        self.away, self.angle = away[cells.row, cells.col], angle[cells.row, cells.col]
        water = self.solver.water
        water[:, 0] = np.maximum(depth + slope * (length - cells.station) - cells.bed, 0)
        water[:, 1], water[:, 2] = -speed * np.sin(self.angle), speed * np.cos(self.angle)

    def bank(self, away):
        """Return the bed above the flat part at a distance from the bend's centre [m]."""
        return np.clip(np.abs(self.radius - away) - self.width / 2, 0, None) / 4

    def cycle(self, times):
        for _ in range(times):
            self.solver.update_bend_force()
            self.solver.sweep(4)
            self.solver.correct(0.6)
            self.solver.sweep(1)

    def across(self, values, radii, from_deg, to_deg):
        """Return means of cell values about each radius between two angles."""
        turn = np.degrees(self.angle)
        part = (turn > from_deg) & (turn < to_deg)
        return np.array(
            [values[part & (np.abs(self.away - radius) < 1.0)].mean() for radius in radii]
        )

    def developed(self):
        """Return radii, depths and speeds of developed flow without secondary flow.

        The fall a radian is the same across, so S = S0 R/r; with no push across, each thread has
        Manning's speed, and the surface tilts by d(level)/dr = U^2/(g r). The level in the middle
        is the one that carries the flow.
        """
        edge = self.width / 2 + BANK
        radii = np.linspace(self.radius - edge, self.radius + edge, 1601)

        def section(middle):
            depth = np.maximum(middle - self.bank(radii), 0)
            for _ in range(40):
                speed = depth ** (2 / 3) * np.sqrt(self.slope * self.radius / radii) / self.rough
                tilt = speed**2 / (GRAVITY * radii)
                rise = np.r_[0, np.cumsum(0.5 * (tilt[1:] + tilt[:-1]) * np.diff(radii))]
                level = middle + rise - np.interp(self.radius, radii, rise)
                depth = np.maximum(level - self.bank(radii), 0)
            return depth, speed

        flow = self.solver.boundary_values.inflow
        middle = brentq(lambda d: np.trapezoid(np.prod(section(d), 0), radii) - flow, 0.2, 6.0)
        return radii, *section(middle)

    def developed_with_helix(self, radii, depths):
        """Return speeds of developed flow with the closure, over given depths across.

        (1/r^2) d/dr (r k h^2 U^2) = g h S0 R/r - Cf U^2 with no flux through the inner edge: an
        ordinary differential equation in M = r k h^2 U^2, marched outwards.
        """

        def parts(r):
            depth = max(float(np.interp(r, radii, depths)), 0.02)
            k = float(helix_factor(np.array(depth), np.array(self.rough**2)))
            return depth, k, GRAVITY * self.rough**2 / depth ** (1 / 3)

        def rise(r, moment):
            depth, k, friction = parts(r)
            square = max(moment[0], 0.0) / (r * k * depth**2)
            drive = GRAVITY * depth * self.slope * self.radius / r
            return [r * r * (drive - friction * square)]

        wet = radii[depths > 0.05]
        way = solve_ivp(
            rise, (wet[0], wet[-1]), [0.0], method="LSODA", max_step=0.05, dense_output=True
        )
        speeds = []
        for r in wet:
            depth, k, _ = parts(r)
            speeds.append(np.sqrt(max(way.sol(r)[0], 0.0) / (r * k * depth**2)))
        return wet, np.array(speeds)
