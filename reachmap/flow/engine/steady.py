"""Iterate to steady flow: small changes, and the same discharge through every section."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reachmap.base.arrays import Float32Array
from reachmap.flow.engine import _kernels_implicit
from reachmap.flow.engine.coarse import CoarseCorrection
from reachmap.flow.engine.grid_solver import GridSolver

STEP_SHARES = (1.0, 0.25)
"""Shares of the Courant number, tried one after the other; with the last one, slopes are flattened
where the velocity oscillates."""
EXPLICIT_ROUNDS, EXPLICIT_STEPS = 25, 50
"""The last resort: rounds of explicit steps, each followed by the 1-D correction."""
LOOSE = 2.0
"""On grids that only start the next one, tolerances are this many times as wide."""
NEARLY_STEADY = 5.0
"""Flow that still moves less than this many tolerances a cycle is taken for restless water (an eddy
that comes and goes), which explicit steps would not still."""
PATIENCE = 60
"""Cycles without getting a tenth calmer after which steps are shortened: as long as eddies take to
grow. Our choice by trial."""
RATE_CYCLES = 5
"""How fast changes shrink is taken over this many cycles. Our choice, range 3-10."""
SLOWEST_RATE = 0.98
"""Changes that shrink more slowly than by this factor a cycle are taken to shrink by it."""
RESTLESS, RESTLESS_RINGS, RESTLESS_SHARE, RESTLESS_SWEEPS = 0.005, 3, 0.25, 6
"""Cells whose velocity changes by more than the first a cycle [m/s], with so many rings of
neighbours, are swept so often between cycles if they are at most that share of all. Our choice by
trial, 0.002-0.01, 1-5, 0.1-0.4 and 4-12."""
RIVER_CYCLES, RIVER_LAST = 5, 40
"""The river's cells are found anew every so many cycles, up to this one; then they hold."""


@dataclass(frozen=True, slots=True)
class Reached:
    """How a solve ended.

    Parameters
    ----------
    solved
        Whether every tolerance was met.
    scheme
        "implicit", "implicit, finer steps" or "explicit".
    cycles
        How many cycles it took in all.
    section_error
        Worst section's discharge error over its inflow.
    depth_change, speed_change
        Root-mean-square change over the last cycle [m], [m/s].
    outflow
        Discharge at the foot [m3/s].
    speed_remaining
        Change of speed still to come, extrapolated, root mean square [m/s].
    """

    solved: bool
    scheme: str
    cycles: int
    section_error: float
    depth_change: float
    speed_change: float
    outflow: float
    speed_remaining: float = np.inf


def to_steady(
    solver: GridSolver,
    *,
    loose: bool = False,
    correction: CoarseCorrection | None = None,
    restart: Callable[[], None] | None = None,
) -> Reached:
    """Solve for steady flow in place; smaller and then explicit steps where need be.

    Parameters
    ----------
    solver
        Grid, values, and a start in `water`.
    loose
        Whether the answer only starts a finer grid: wider tolerances, no fallbacks.
    correction
        The correction from the next coarser grid, where there is one.
    restart
        Initialises the water again after the solution diverged; without it that is the end.

    Notes
    -----
    A cycle is `sweeps` symmetric sweeps, the 1-D correction, and one more sweep. What does
    not settle goes on with quarter steps; what diverges starts again with them. What
    is then still far from rest goes on by explicit steps. Nothing is called solved that is
    not.
    """
    reached = Reached(False, "implicit", 0, np.inf, np.inf, np.inf, 0.0)
    for share in STEP_SHARES[: 1 if loose else 2]:
        if not _is_finite(solver, restart):
            return reached
        reached = _by_sweeps(solver, share, reached.cycles, correction, loose=loose)
        if reached.solved:
            return reached
    if not loose and not _is_nearly_steady(solver, reached):
        if not _is_finite(solver, restart):
            return reached
        reached = _by_steps(solver, reached.cycles)
    return reached


def _is_finite(solver: GridSolver, restart: Callable[[], None] | None) -> bool:
    """Return whether the water is finite throughout, if need be after a new start."""
    if not np.isfinite(solver.water).all() and restart is not None:
        restart()
    return bool(np.isfinite(solver.water).all())


def _is_nearly_steady(solver: GridSolver, reached: Reached) -> bool:
    """Return whether the water is so close to steady that explicit steps would not help."""
    settings = solver.settings
    return (
        reached.section_error <= settings.section_error_most
        and reached.speed_change <= NEARLY_STEADY * settings.speed_change_m_s
        and reached.depth_change <= NEARLY_STEADY * settings.depth_change_m
    )


def _by_sweeps(
    solver: GridSolver, share: float, done: int, correction: CoarseCorrection | None, *, loose: bool
) -> Reached:
    """Iterate until the tolerances hold, the solution diverges, or it converges no further."""
    settings = solver.settings
    scheme = "implicit" if share == 1.0 else "implicit, finer steps"
    most = settings.courant * share
    solver.cfl[:] = most
    before, moved = solver.water.astype(np.float32), np.zeros((solver.cells.count, 2), np.float32)
    reached = Reached(False, scheme, done, np.inf, np.inf, np.inf, 0.0)
    calmest, since = np.inf, 0
    changes: deque[float] = deque(maxlen=RATE_CYCLES + 1)
    for cycle in range(settings.cycles_most):
        if cycle % RIVER_CYCLES == 0 and done + cycle <= RIVER_LAST:
            solver.find_river()
        solver.update_bend_force()
        cycle_once(solver, correction)
        sums = _kernels_implicit.adapt_steps(
            solver.water, before, moved, most, share < 1.0, solver.cfl, solver.slope_factor
        )
        reached = _measured(solver, sums, scheme, done + cycle + 1, LOOSE if loose else 1.0)
        changes.append(reached.speed_change)
        reached = replace(reached, speed_remaining=remaining_change(changes))
        if not loose and reached.speed_remaining > settings.speed_remaining_m_s:
            reached = replace(reached, solved=False)
        if reached.solved or not np.isfinite(reached.speed_change):
            return reached
        calm_restless(solver, before, moved)
        if reached.speed_change < 0.9 * calmest:
            calmest, since = reached.speed_change, cycle
        elif cycle - since >= PATIENCE:
            return reached
    return reached


def calm_restless(solver: GridSolver, before: Float32Array, moved: Float32Array) -> None:
    """Sweep on where the water still moves, if that is a small part of the river.

    Eddies behind bars settle last and slowly, while the rest stands. What happens here does not
    count as a change of the cycle: at rest is only what a whole cycle no longer moves.

    Parameters
    ----------
    solver
        The grid; its water is changed in place.
    before
        The water now, shape (cells, 3); kept in step.
    moved
        Change of velocity over the last cycle, shape (cells, 2).
    """
    restless = np.abs(moved).sum(axis=1) > RESTLESS
    restless &= solver.water[:, 0] > _kernels_implicit.COUNTED_DEPTH
    for _ in range(RESTLESS_RINGS):
        neighbours = solver.mesh.neighbours[restless].ravel()
        restless[neighbours[neighbours >= 0]] = True
    which = np.flatnonzero(restless).astype(np.int32)
    if 0 < which.size <= RESTLESS_SHARE * solver.cells.count:
        solver.sweep_some(RESTLESS_SWEEPS, which)
        before[which] = solver.water[which]


def remaining_change(changes: Sequence[float]) -> float:
    """Return the change still to come, extrapolated from the last changes, oldest first.

    Changes that shrink by the same factor r a cycle add up to last r / (1 - r). Infinite with fewer
    changes than are needed to estimate r.
    """
    if len(changes) <= RATE_CYCLES or not np.isfinite(changes).all() or changes[0] <= 0:
        return np.inf if len(changes) <= RATE_CYCLES else float(changes[-1])
    rate = min((changes[-1] / changes[0]) ** (1 / RATE_CYCLES), SLOWEST_RATE)
    return float(changes[-1] * rate / (1 - rate))


def cycle_once(solver: GridSolver, correction: CoarseCorrection | None) -> None:
    """Run one cycle: sweeps, correction from the coarser grid, 1-D correction."""
    settings = solver.settings
    if correction is None:
        solver.sweep(settings.sweeps)
    else:
        solver.sweep(1)
        correction.apply()
        solver.sweep(1)
    solver.correct(settings.correction)
    solver.sweep(1)


def _by_steps(solver: GridSolver, done: int) -> Reached:
    """Continue with explicit local time steps and the 1-D correction in between."""
    before, moved = solver.water.astype(np.float32), np.zeros((solver.cells.count, 2), np.float32)
    reached = Reached(False, "explicit", done, np.inf, np.inf, np.inf, 0.0)
    for cycle in range(EXPLICIT_ROUNDS):
        solver.find_river()
        solver.explicit(EXPLICIT_STEPS)
        solver.correct(0.5 * solver.settings.correction)
        solver.explicit(EXPLICIT_STEPS // 5)
        sums = _kernels_implicit.adapt_steps(
            solver.water, before, moved, 1.0, False, solver.cfl, solver.slope_factor
        )
        reached = _measured(solver, sums, "explicit", done + cycle + 1, 1.0)
        if reached.solved or not np.isfinite(reached.speed_change):
            return reached
    return reached


def _measured(
    solver: GridSolver, sums: tuple[float, float, int], scheme: str, cycles: int, wide: float
) -> Reached:
    """Return where the solver stands after a cycle; tolerances of change are taken `wide` times."""
    settings = solver.settings
    error, outflow = solver.balance()
    depth2, speed2, number = sums
    depth = float(np.sqrt(depth2 / max(number, 1)))
    speed = float(np.sqrt(speed2 / max(number, 1)))
    solved = (
        error <= max(wide, 1.0) * settings.section_error
        and depth <= wide * settings.depth_change_m
        and speed <= wide * settings.speed_change_m_s
        and number > 0
    )
    return Reached(solved, scheme, cycles, error, depth, speed, outflow)
