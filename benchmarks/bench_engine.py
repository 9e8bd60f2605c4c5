"""Speed of the flow engine: against its own explicit scheme, by length, by memory.

`python -m scripts.engine_speed` prints the table of docs/flow-engine.md; asv runs the classes.
Seconds are processor time of one core, so that a busy machine matters less.
"""

from __future__ import annotations

import time
import tracemalloc
from dataclasses import replace

import numpy as np

from reachmap.flow import FlowSettings, foot_levels
from reachmap.flow.engine import EngineSettings, solve_engine
from reachmap.flow.engine.grid_solver import GridSolver
from reachmap.flow.engine.grids import ground_frame
from reachmap.flow.engine.one_flow import Reach, boundary_values_of, grids_of, solve_on_grids, start
from reachmap.flow.engine.solve_engine import profiles
from tests.flow.engine.made_rivers import RIVERS, long_river

NEAR = 0.01
"""Root-mean-square distance from the converged speeds that ends the clock [m/s]."""
FAR = {
    "section_error": 2e-5, "depth_change_m": 5e-6, "speed_change_m_s": 2e-5, "cycles_most": 300,
}  # fmt: skip
"""Tolerances of the answer the others are held against: a hundredth of the engine's own."""


class Case:
    """One river at one flow, and its answer solved far beyond need."""

    def __init__(self, ground, flow):
        self.ground, self.flow, self.settings = ground, flow, EngineSettings()
        self.foot = float(foot_levels(ground, [flow], FlowSettings())[0])
        self.reach = Reach.of(ground, ground_frame(ground))
        self.profile = profiles(ground, np.array([flow]), [self.foot])[0]
        self.grids = self.cut()

    def cut(self):
        return grids_of(self.reach, self.profile, self.settings.margin_m, self.settings)

    def solve(self, settings):
        """Return the finest solver, solved from nothing, and what was reached."""
        return solve_on_grids(self.reach, self.grids, self.profile, self.foot, settings)

    def converged(self):
        """Return the water solved to a hundredth of the tolerances, and what was reached."""
        solver, reached = self.solve(replace(self.settings, **FAR))
        return solver.water.copy(), reached

    def first_water(self):
        """Return the finest solver filled from the 1-D profile, as the explicit scheme starts."""
        frame, cells = self.grids[-1]
        values = boundary_values_of(frame, cells, self.profile, self.foot, self.settings)
        solver = GridSolver(cells, values, self.settings)
        start(solver, self.profile)
        solver.find_river()
        return solver


def apart(water, final):
    """Return the root-mean-square distance of speeds in water deeper than 5 cm [m/s]."""
    deep = final[:, 0] > 0.05
    return float(np.sqrt(((water - final)[deep, 1:] ** 2).sum(axis=1).mean()))


def engine_seconds(case):
    """Return processor seconds from nothing to the engine's own end, and the water then."""
    began = time.process_time()
    solver, _ = case.solve(case.settings)
    return time.process_time() - began, solver.water


def explicit_seconds(case, final, *, most=60.0):
    """Return processor seconds of explicit steps on the finest grid to `NEAR` of `final`.

    Each cell at its own step, from the 1-D profile; `most` seconds at most, then also how far the
    water still is.
    """
    solver, spent = case.first_water(), 0.0
    while spent < most:
        began = time.process_time()
        solver.explicit(100)
        spent += time.process_time() - began
        if apart(solver.water, final) < NEAR:
            break
    return spent, apart(solver.water, final)


def peak_bytes(case):
    """Return peak bytes an active cell of one solve, and bytes a raster cell of making its grids.

    The ground and its frame, which all flows share, are not in them.
    """
    active, whole = case.grids[-1][1].count, case.ground["bed"].size
    case.solve(case.settings)  # compile, whose memory is not the engine's
    case.grids = None
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    case.grids = case.cut()
    cut = tracemalloc.get_traced_memory()[1] - before
    tracemalloc.reset_peak()
    case.solve(case.settings)
    solve = tracemalloc.get_traced_memory()[1] - before
    tracemalloc.stop()
    return solve / active, cut / whole


class Solve:
    """Seconds to solve one flow of each made river."""

    params = list(RIVERS)
    param_names = ["river"]
    timeout = 300

    def setup(self, river):
        self.ground = RIVERS[river]()
        self.flow = self.ground.attrs["flows"][1]
        self.foot = foot_levels(self.ground, [self.flow], FlowSettings())
        solve_engine(
            self.ground,
            [self.flow],
            self.foot,
            EngineSettings(grids=1, cycles_most=1, section_error_most=1e9),
            workers=1,
        )  # compile outside the clock

    def time_solve(self, river):
        solve_engine(self.ground, [self.flow], self.foot, EngineSettings(), workers=1)


class Ratio:
    """How many times longer the explicit scheme takes to 1 cm/s of the converged answer."""

    unit = "times"
    timeout = 600

    def setup(self):
        self.case = Case(long_river(500), 35.0)
        self.final, _ = self.case.converged()

    def track_explicit_over_engine(self):
        ours, water = engine_seconds(self.case)
        assert apart(water, self.final) < NEAR
        return explicit_seconds(self.case, self.final)[0] / ours


class Memory:
    """Peak bytes an active cell."""

    unit = "bytes"

    def setup(self):
        self.case = Case(long_river(1000), 35.0)

    def track_bytes_per_active_cell(self):
        return peak_bytes(self.case)[0]


class Length:
    """Seconds to solve a river of growing length."""

    params = [500, 1000, 2000, 4000]
    param_names = ["metres"]
    timeout = 300

    def setup(self, metres):
        self.case = Case(long_river(metres), 35.0)

    def time_length(self, metres):
        engine_seconds(self.case)
