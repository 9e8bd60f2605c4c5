"""From a start to steady flow: cycles until it holds still and every section carries the flow."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.flow.engine import _kernels_implicit
from reachmap.flow.engine.basin import Basin
from reachmap.flow.engine.coarse import CoarseHelp

FINER = (1.0, 0.25)
"""Shares of the Courant number, tried one after the other; with the last one, slopes are flattened
where the water swings to and fro."""
EXPLICIT_ROUNDS, EXPLICIT_STEPS = 25, 50
"""The last resort: rounds of explicit steps, each followed by the 1-D correction."""
LOOSE = 2.0
"""On grids that only start the next one, tolerances are this many times as wide."""
NEARLY = 5.0
"""Flow that still moves less than this many tolerances a cycle is taken for restless water (an eddy
that comes and goes), which explicit steps would not still."""
PATIENCE = 60
"""Cycles without getting a tenth calmer after which steps are shortened: as long as eddies take to
grow. Our choice by trial."""
RATE_CYCLES = 5
"""How fast changes shrink is taken over this many cycles. Our choice, range 3-10."""
SLOWEST_RATE = 0.98
"""Changes that shrink more slowly than by this factor a cycle are taken to shrink by it."""
RIVER_CYCLES, RIVER_LAST = 5, 40
"""The river's cells are found anew every so many cycles, up to this one; then they hold."""


@dataclass(frozen=True, slots=True)
class Reached:
    """What a solve reached.

    Parameters
    ----------
    solved
        Whether every tolerance was met.
    way
        "implicit", "implicit, finer steps" or "explicit".
    cycles
        How many cycles it took in all.
    section_error
        Worst section's discharge error over its inflow.
    depth_change, speed_change
        Root-mean-square change over the last cycle [m], [m/s].
    outflow
        Discharge at the foot [m3/s].
    speed_ahead
        How far speeds still are from where they are going, root mean square [m/s].
    """

    solved: bool
    way: str
    cycles: int
    section_error: float
    depth_change: float
    speed_change: float
    outflow: float
    speed_ahead: float = np.inf


def to_steady(
    basin: Basin,
    *,
    loose: bool = False,
    helper: CoarseHelp | None = None,
    restart: Callable[[], None] | None = None,
) -> Reached:
    """Bring a basin's water to steady flow in place, by the first way that gets there.

    Parameters
    ----------
    basin
        Grid, demand, and a start in `water`.
    loose
        Whether the answer only starts a finer grid: wider tolerances, no fallbacks.
    helper
        The next coarser grid's help, where there is one.
    restart
        Fills the basin with its start again, for water that blew up; without it that is the end.

    Notes
    -----
    ----- A cycle is `sweeps` symmetric sweeps, the 1-D correction, and one more sweep. What does
    not settle goes on with quarter steps; what blows up starts again with them. What
    is then still far from rest goes on by explicit steps. What was reached is told; nothing is
    called solved that is not.
    """
    reached = Reached(False, "implicit", 0, np.inf, np.inf, np.inf, 0.0)
    for share in FINER[: 1 if loose else 2]:
        if not _whole(basin, restart):
            return reached
        reached = _by_sweeps(basin, share, reached.cycles, helper, loose=loose)
        if reached.solved:
            return reached
    if not loose and not _nearly(basin, reached):
        if not _whole(basin, restart):
            return reached
        reached = _by_steps(basin, reached.cycles)
    return reached


def _whole(basin: Basin, restart: Callable[[], None] | None) -> bool:
    """Return whether the water has numbers throughout, if need be from its start again."""
    if not np.isfinite(basin.water).all() and restart is not None:
        restart()
    return bool(np.isfinite(basin.water).all())


def _nearly(basin: Basin, reached: Reached) -> bool:
    """Return whether the water is close enough to rest that explicit steps would not help."""
    settings = basin.settings
    return (
        reached.section_error <= settings.section_error_most
        and reached.speed_change <= NEARLY * settings.speed_change_m_s
        and reached.depth_change <= NEARLY * settings.depth_change_m
    )


def _by_sweeps(
    basin: Basin, share: float, done: int, helper: CoarseHelp | None, *, loose: bool
) -> Reached:
    """Cycle until the tolerances hold, the water blows up, or it gets no calmer."""
    settings = basin.settings
    way = "implicit" if share == 1.0 else "implicit, finer steps"
    most = settings.courant * share
    basin.pace[:] = most
    before, moved = basin.water.astype(np.float32), np.zeros((basin.cells.count, 2), np.float32)
    reached = Reached(False, way, done, np.inf, np.inf, np.inf, 0.0)
    calmest, since = np.inf, 0
    changes: deque[float] = deque(maxlen=RATE_CYCLES + 1)
    for cycle in range(settings.cycles_most):
        if cycle % RIVER_CYCLES == 0 and done + cycle <= RIVER_LAST:
            basin.find_river()
        basin.pull_in_bends()
        cycle_once(basin, helper)
        sums = _kernels_implicit.ease_pace(
            basin.water, before, moved, most, share < 1.0, basin.pace, basin.calm
        )
        reached = _measured(basin, sums, way, done + cycle + 1, LOOSE if loose else 1.0)
        changes.append(reached.speed_change)
        reached = replace(reached, speed_ahead=ahead_of(changes))
        if not loose and reached.speed_ahead > settings.speed_ahead_m_s:
            reached = replace(reached, solved=False)
        if reached.solved or not np.isfinite(reached.speed_change):
            return reached
        if reached.speed_change < 0.9 * calmest:
            calmest, since = reached.speed_change, cycle
        elif cycle - since >= PATIENCE:
            return reached
    return reached


def ahead_of(changes: Sequence[float]) -> float:
    """Return how far there is still to go from the last changes, oldest first.

    Changes that shrink by the same factor r a cycle add up to last r / (1 - r). Infinite with fewer
    changes than are needed to tell r.
    """
    if len(changes) <= RATE_CYCLES or not np.isfinite(changes).all() or changes[0] <= 0:
        return np.inf if len(changes) <= RATE_CYCLES else float(changes[-1])
    rate = min((changes[-1] / changes[0]) ** (1 / RATE_CYCLES), SLOWEST_RATE)
    return float(changes[-1] * rate / (1 - rate))


def cycle_once(basin: Basin, helper: CoarseHelp | None) -> None:
    """Go once through sweeps, the coarser grid's help and the 1-D correction."""
    settings = basin.settings
    if helper is None:
        basin.sweep(settings.sweeps)
    else:
        basin.sweep(1)
        helper.apply()
        basin.sweep(1)
    basin.correct(settings.correction)
    basin.sweep(1)


def _by_steps(basin: Basin, done: int) -> Reached:
    """Go on by explicit steps, each cell at its own, with the 1-D correction in between."""
    before, moved = basin.water.astype(np.float32), np.zeros((basin.cells.count, 2), np.float32)
    reached = Reached(False, "explicit", done, np.inf, np.inf, np.inf, 0.0)
    for cycle in range(EXPLICIT_ROUNDS):
        basin.find_river()
        basin.explicit(EXPLICIT_STEPS)
        basin.correct(0.5 * basin.settings.correction)
        basin.explicit(EXPLICIT_STEPS // 5)
        sums = _kernels_implicit.ease_pace(
            basin.water, before, moved, 1.0, False, basin.pace, basin.calm
        )
        reached = _measured(basin, sums, "explicit", done + cycle + 1, 1.0)
        if reached.solved or not np.isfinite(reached.speed_change):
            return reached
    return reached


def _measured(
    basin: Basin, sums: tuple[float, float, int], way: str, cycles: int, wide: float
) -> Reached:
    """Return where the basin stands after a cycle; tolerances of change are taken `wide` times."""
    settings = basin.settings
    error, outflow = basin.balance()
    depth2, speed2, number = sums
    depth = float(np.sqrt(depth2 / max(number, 1)))
    speed = float(np.sqrt(speed2 / max(number, 1)))
    solved = (
        error <= max(wide, 1.0) * settings.section_error
        and depth <= wide * settings.depth_change_m
        and speed <= wide * settings.speed_change_m_s
        and number > 0
    )
    return Reached(solved, way, cycles, error, depth, speed, outflow)


def explicit_reference(basin: Basin, rounds: int, steps: int) -> FloatArray:
    """Return the discharge error of the worst section after each round of explicit steps.

    The scheme that the steady solver is compared with: no correction, each cell at its own step.
    """
    errors = np.zeros(rounds)
    for k in range(rounds):
        basin.explicit(steps)
        errors[k] = basin.balance()[0]
    return errors
