"""Compare the flow engine with an independent, general-purpose library on one small river.

Run from the project's root as `python -m scripts.check_independent`, in an environment that also
has `clawpack` 5.14 (finite volumes for hyperbolic laws; its build needs a Fortran compiler). It
solves a 240 m river with banks that fall dry and a bar that parts it, with one start, one bed, one
friction law and boundaries set up alike, and prints how far the two answers are from each other
and how long each took to come within 1 cm/s (root mean square) of its own converged answer.
"""

from __future__ import annotations

import time

import numpy as np
from clawpack import pyclaw, riemann

from reachmap.flow.engine._kernels_flux import GRAVITY
from reachmap.flow.engine._kernels_implicit import ease_pace
from reachmap.flow.engine.basin import Basin, Demand
from reachmap.flow.engine.cells import cells_of
from reachmap.flow.engine.coarse import helper_of
from reachmap.flow.engine.grids import coarser
from reachmap.flow.engine.settings import EngineSettings
from reachmap.flow.engine.steady import cycle_once
from tests.flow.engine.made_channels import EAST, channel_frame

CELL, ROWS, COLS = 2.0, 26, 120
SLOPE, ROUGH, FLOW = 0.003, 0.035, 26.0
NEAR = 0.01
"""Root-mean-square distance from the converged speeds that ends the clock [m/s]."""
DEEP = 0.1
"""Speeds are compared where the water is deeper than this [m]."""


def river_bed() -> np.ndarray:
    """Return the bed (y, x) [m]: banks of 1 in 5, a bar 60 m long that stays dry, a small pool."""
    x, y = np.meshgrid((np.arange(COLS) + 0.5) * CELL, (np.arange(ROWS) + 0.5 - ROWS / 2) * CELL)
    bed = SLOPE * (COLS * CELL - x) + np.clip(np.abs(y) - 14.0, 0, None) / 5
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
    x = (np.arange(COLS) + 0.5) * CELL
    depth = np.clip(level + SLOPE * (COLS * CELL - x)[None, :] - bed, 0, None)
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
        basins = [Basin(cells, Demand(FLOW, level), settings) for cells in grids]
        self.basin, self.helper = basins[-1], helper_of(basins, settings.coarse_sweeps)
        self.before = np.zeros((self.basin.cells.count, 3), np.float32)
        self.moved = np.zeros((self.basin.cells.count, 2), np.float32)
        cells = self.basin.cells
        depth, speed = first_water(bed, level)
        self.basin.water[:, 0] = depth[cells.row - 1, cells.col - 1]
        self.basin.water[:, 1] = speed[cells.row - 1, cells.col - 1]

    def advance(self) -> None:
        """Take one cycle, as the engine does."""
        basin = self.basin
        cycle_once(basin, self.helper)
        ease_pace(
            basin.water, self.before, self.moved, basin.settings.courant, False, basin.pace,
            basin.calm,
        )  # fmt: skip

    def fields(self) -> tuple[np.ndarray, np.ndarray]:
        """Return depth (y, x) and speeds (2, y, x)."""
        cells = self.basin.cells
        raster = [cells.spread(self.basin.water[:, k], 0.0)[1:-1, 1:-1] for k in range(3)]
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
                pyclaw.Dimension(0.0, COLS * CELL, COLS, name="x"),
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


def settle(make: type, rounds: int) -> tuple[tuple[np.ndarray, np.ndarray], float, int]:
    """Return the converged fields, and the seconds and rounds from the start to within `NEAR`."""
    bed = river_bed()
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


def main() -> None:
    """Print the comparison."""
    settle(Ours, 2)  # compile outside the clock
    (depth, speed), seconds, cycles = settle(Ours, 300)
    (their_depth, their_speed), their_seconds, rounds = settle(Theirs, 400)
    both = (depth > DEEP) & (their_depth > DEEP)
    size, their_size = np.hypot(*speed), np.hypot(*their_speed)
    wet, their_wet = depth > 0.01, their_depth > 0.01
    print(
        f"cells {both.size}, wet {wet.sum()} ours, {their_wet.sum()} theirs, "
        f"{(wet != their_wet).sum()} differ"
    )
    gap = (depth - their_depth)[both]
    print(f"depth: rms {1000 * np.sqrt((gap**2).mean()):.1f} mm, mean {1000 * gap.mean():+.1f} mm")
    gap = (size - their_size)[both]
    print(
        f"speed: rms {100 * np.sqrt((gap**2).mean()):.2f} cm/s, mean {100 * gap.mean():+.2f} cm/s,"
        f" of {their_size[both].mean():.2f} m/s"
    )
    inner = both.copy()
    inner[:, :15] = inner[:, -15:] = False
    gap = (size - their_size)[inner]
    print(f"speed away from the ends: rms {100 * np.sqrt((gap**2).mean()):.2f} cm/s")
    print(
        f"to 1 cm/s of the converged answer: ours {seconds:.3f} s ({cycles} cycles), theirs "
        f"{their_seconds:.2f} s ({10 * rounds} s of river), ratio {their_seconds / seconds:.0f}"
    )


if __name__ == "__main__":
    main()
