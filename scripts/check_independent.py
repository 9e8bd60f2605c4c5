"""Compare the flow engine with an independent, general-purpose library on one small river.

Run from the project's root as `python -m scripts.check_independent`, in an environment that also
has `clawpack` 5.14 (finite volumes for hyperbolic laws; its build needs a Fortran compiler). It
solves a river of 240 and of 960 m with banks that fall dry and bars that part it, with one start,
one bed, one friction law and boundaries set up alike, and prints how far the two answers are from
each other and how long each took to come within 1 cm/s (root mean square) of its own converged
answer. Seconds are processor time of one core.
"""

from __future__ import annotations

import time

import numpy as np
from clawpack import pyclaw, riemann

from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_implicit import adapt_steps
from reachmap.flow.engine.cells import cells_of
from reachmap.flow.engine.coarse import correction_of
from reachmap.flow.engine.grid_solver import BoundaryValues, GridSolver
from reachmap.flow.engine.grids import coarser
from reachmap.flow.engine.settings import EngineSettings
from reachmap.flow.engine.steady import cycle_once
from tests.flow.engine.made_channels import EAST, channel_frame

CELL, ROWS = 2.0, 26
UNIT = 240.0
"""Length after which the bed repeats itself [m]."""
SLOPE, ROUGH, FLOW = 0.003, 0.035, 26.0
NEAR = 0.01
"""Root-mean-square distance from the converged speeds that ends the clock [m/s]."""
DEEP = 0.1
"""Speeds are compared where the water is deeper than this [m]."""


def river_bed(units: int) -> np.ndarray:
    """Return the bed (y, x) [m]: banks of 1 in 5, in each unit a bar that stays dry and a pool."""
    cols = round(units * UNIT / CELL)
    x, y = np.meshgrid((np.arange(cols) + 0.5) * CELL, (np.arange(ROWS) + 0.5 - ROWS / 2) * CELL)
    bed = SLOPE * (cols * CELL - x) + np.clip(np.abs(y) - 14.0, 0, None) / 5
    x = x % UNIT
    bed += 1.6 * np.exp(-(((x - 110) / 28) ** 4) - ((y - 3) / 5) ** 2)
    return bed - 0.4 * np.exp(-(((x - 180) / 18) ** 2) - ((y + 4) / 8) ** 2)


def normal_level(bed: np.ndarray) -> float:
    """Return the level of uniform flow at the last column [m]."""
    levels = np.linspace(bed[:, -1].min(), bed[:, -1].min() + 4, 8001)
    depth = np.clip(levels[:, None] - bed[:, -1], 0, None)
    carried = (depth ** (5 / 3)).sum(axis=1) * CELL * np.sqrt(SLOPE) / ROUGH
    return float(np.interp(FLOW, carried, levels))


def first_water(bed: np.ndarray, level: float) -> np.ndarray:
    """Return depth and speed (2, y, x) of uniform flow, the start of both."""
    cols = bed.shape[1]
    x = (np.arange(cols) + 0.5) * CELL
    depth = np.clip(level + SLOPE * (cols * CELL - x)[None, :] - bed, 0, None)
    return np.stack([depth, depth ** (2 / 3) * np.sqrt(SLOPE) / ROUGH])


def apart(speed: np.ndarray, depth: np.ndarray, final: np.ndarray, deep: np.ndarray) -> float:
    """Return the root-mean-square distance of speeds (2, y, x) where both are deep [m/s]."""
    both = (depth > DEEP) & (deep > DEEP)
    return float(np.sqrt(((speed - final) ** 2).sum(axis=0)[both].mean()))


class Ours:
    """The engine on the small river."""

    def __init__(self, bed: np.ndarray, level: float) -> None:
        """Fill it with the start."""
        settings = EngineSettings(eddy_share=0.0)
        frames = [channel_frame(bed, ROUGH, CELL)]
        for _ in range(settings.grids - 1):
            frames.insert(0, coarser(frames[0]))
        grids = [cells_of(frame, EAST, EAST) for frame in frames]
        solvers = [GridSolver(cells, BoundaryValues(FLOW, level), settings) for cells in grids]
        self.solver, self.correction = solvers[-1], correction_of(solvers, settings.coarse_sweeps)
        self.before = np.zeros((self.solver.cells.count, 3), np.float32)
        self.moved = np.zeros((self.solver.cells.count, 2), np.float32)
        cells = self.solver.cells
        depth, speed = first_water(bed, level)
        self.solver.water[:, 0] = depth[cells.row - 1, cells.col - 1]
        self.solver.water[:, 1] = speed[cells.row - 1, cells.col - 1]

    def advance(self) -> None:
        """Take one cycle, as the engine does."""
        solver = self.solver
        cycle_once(solver, self.correction)
        adapt_steps(
            solver.water, self.before, self.moved, solver.settings.courant, False, solver.cfl,
            solver.slope_factor,
        )  # fmt: skip

    def fields(self) -> tuple[np.ndarray, np.ndarray]:
        """Return depth (y, x) and speeds (2, y, x)."""
        cells = self.solver.cells
        raster = [cells.spread(self.solver.water[:, k], 0.0)[1:-1, 1:-1] for k in range(3)]
        return raster[0], np.stack(raster[1:])


class Theirs:
    """The library's augmented Riemann solver (George 2008) with friction split off."""

    def __init__(self, bed: np.ndarray, level: float) -> None:
        """Set it up with the same bed, start and boundaries."""
        solver = pyclaw.ClawSolver2D(riemann.sw_aug_2D)
        solver.dimensional_split = True
        solver.limiters = pyclaw.limiters.tvd.vanleer
        solver.order, solver.fwave, solver.source_split = 2, True, 1
        solver.cfl_max, solver.cfl_desired, solver.max_steps = 0.9, 0.8, 10**7
        solver.step_source = self._friction
        solver.bc_lower[:] = [pyclaw.BC.custom, pyclaw.BC.wall]
        solver.bc_upper[:] = [pyclaw.BC.custom, pyclaw.BC.wall]
        solver.aux_bc_lower[:] = [pyclaw.BC.extrap, pyclaw.BC.extrap]
        solver.aux_bc_upper[:] = [pyclaw.BC.extrap, pyclaw.BC.extrap]
        solver.user_bc_lower, solver.user_bc_upper = self._head, self._foot
        domain = pyclaw.Domain(
            [
                pyclaw.Dimension(0.0, bed.shape[1] * CELL, bed.shape[1], name="x"),
                pyclaw.Dimension(0.0, ROWS * CELL, ROWS, name="y"),
            ]
        )
        state = pyclaw.State(domain, 3, num_aux=1)
        depth, speed = first_water(bed, level)
        state.aux[0] = bed.T
        state.q[0], state.q[1], state.q[2] = depth.T, (depth * speed).T, 0.0
        state.problem_data.update(grav=GRAVITY, dry_tolerance=1e-3, sea_level=0.0)
        self.level, self.solver, self.time = level, solver, 0.0
        self.solution = pyclaw.Solution(state, domain)
        solver.setup(self.solution)
        solver.dt = 0.1

    @staticmethod
    def _friction(_solver: object, state: pyclaw.State, step: float) -> None:
        """Slow the water by Manning's law, taken implicitly as the engine's explicit steps do."""
        depth = state.q[0]
        wet = depth > 1e-3
        deep = np.where(wet, depth, 1.0)
        drag = step * GRAVITY * ROUGH**2 / deep ** (7 / 3)
        size = np.hypot(state.q[1], state.q[2])
        slowed = np.where(wet, 2 / (1 + np.sqrt(1 + 4 * drag * size)), 0.0)
        state.q[1] *= slowed
        state.q[2] *= slowed

    def _head(self, _state, _dim, _time, q, _aux, ghosts) -> None:  # noqa: ANN001
        """Let the flow in by conveyance, the level from inside."""
        inner = q[:, ghosts, :].copy()
        carry = np.where(inner[0] > 0.02, inner[0], 0.0) ** (5 / 3)
        unit = FLOW * carry / (carry[ghosts:-ghosts].sum() * CELL)
        for k in range(ghosts):
            q[0, k], q[1, k], q[2, k] = inner[0], unit, 0.0

    def _foot(self, _state, _dim, _time, q, aux, ghosts) -> None:  # noqa: ANN001
        """Hold the level, the speed from inside."""
        inner = q[:, -ghosts - 1, :]
        speed = np.where(inner[0] > 1e-3, inner[1:] / np.maximum(inner[0], 1e-3), 0.0)
        for k in range(1, ghosts + 1):
            depth = np.clip(self.level - aux[0, -k], 0, None)
            q[0, -k], q[1, -k], q[2, -k] = depth, depth * speed[0], depth * speed[1]

    def advance(self) -> None:
        """Go on for ten seconds of the river."""
        self.time += 10.0
        self.solver.evolve_to_time(self.solution, self.time)

    def fields(self) -> tuple[np.ndarray, np.ndarray]:
        """Return depth (y, x) and speeds (2, y, x)."""
        q = self.solution.state.q
        depth = q[0].T
        return depth.copy(), np.stack([q[k].T / np.maximum(depth, 1e-3) for k in (1, 2)])


def settle(make: type, rounds: int, units: int) -> tuple[tuple[np.ndarray, np.ndarray], float, int]:
    """Return the converged fields, and the seconds and rounds from the start to within `NEAR`."""
    bed = river_bed(units)
    level = normal_level(bed)
    solver = make(bed, level)
    for _ in range(rounds):
        solver.advance()
    depth, speed = solver.fields()
    again = make(bed, level)
    spent, number = 0.0, 0
    for _ in range(rounds):
        number += 1
        began = time.process_time()
        again.advance()
        spent += time.process_time() - began
        now_depth, now_speed = again.fields()
        if apart(now_speed, now_depth, speed, depth) < NEAR:
            break
    return (depth, speed), spent, number


def compare(units: int) -> None:
    """Print the comparison on a river so many units long."""
    (depth, speed), seconds, cycles = settle(Ours, 200, units)
    (their_depth, their_speed), their_seconds, rounds = settle(Theirs, 100 + 30 * units, units)
    both = (depth > DEEP) & (their_depth > DEEP)
    size, their_size = np.hypot(*speed), np.hypot(*their_speed)
    wet, their_wet = depth > 0.01, their_depth > 0.01
    print(
        f"{units * UNIT:.0f} m: cells {both.size}, wet {wet.sum()} ours, {their_wet.sum()} theirs, "
        f"{(wet != their_wet).sum()} differ"
    )
    gap = np.where(both, depth - their_depth, np.nan)
    print(
        f"  depth: rms {1000 * np.sqrt(np.nanmean(gap**2)):.1f} mm, "
        f"mean {1000 * np.nanmean(gap):+.1f} mm"
    )
    gap = np.where(both, size - their_size, np.nan)
    square = np.sort(gap[both] ** 2)[::-1].cumsum()
    few = np.searchsorted(square, 0.5 * square[-1]) / square.size
    print(
        f"  speed: rms {100 * np.sqrt(np.nanmean(gap**2)):.2f} cm/s, median "
        f"{100 * np.nanmedian(np.abs(gap)):.2f} cm/s, mean {100 * np.nanmean(gap):+.2f} cm/s, of "
        f"{their_size[both].mean():.2f} m/s; half of the squares lie in {100 * few:.0f} % of cells"
    )
    print(
        f"  to 1 cm/s of the converged answer: ours {seconds:.3f} s ({cycles} cycles), theirs "
        f"{their_seconds:.2f} s ({10 * rounds} s of river), ratio {their_seconds / seconds:.0f}",
        flush=True,
    )


def main() -> None:
    """Print the comparison on a short and on a longer river."""
    settle(Ours, 2, 1)  # compile outside the clock
    for units in (1, 4):
        compare(units)


if __name__ == "__main__":
    main()
