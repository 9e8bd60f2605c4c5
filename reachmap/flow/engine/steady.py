"""From a start to steady flow: cycles until it holds still and every section carries the flow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.shapes import F8
from reachmap.flow.engine.basin import CORRECTED_DEPTH, Basin

FINER = (1.0, 0.5, 0.25)
"""Shares of the Courant number tried one after the other."""
EXPLICIT_ROUNDS, EXPLICIT_STEPS = 60, 50
"""The last resort: rounds of explicit steps, each followed by the 1-D correction."""
LOOSE = 5.0
"""On grids that only start the next one, tolerances are this many times as wide."""


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
    """

    solved: bool
    way: str
    cycles: int
    section_error: float
    depth_change: float
    speed_change: float
    outflow: float


def to_steady(basin: Basin, *, loose: bool = False) -> Reached:
    """Bring a basin's water to steady flow in place, by the first way that gets there.

    Parameters
    ----------
    basin
        Grid, demand, and a start in `water`.
    loose
        Whether the answer only starts a finer grid: wider tolerances, no fallback to explicit steps.

    Notes
    -----
    Each cycle is `sweeps` symmetric sweeps, a 1-D correction and one more sweep. Where that does not
    settle, the start is taken again with half and quarter steps, then by explicit steps. The best of
    what was reached is kept and what it reached is said; nothing is called solved that is not.
    """
    start = basin.water.copy()
    best: tuple[Reached, F8] | None = None
    cycles = 0
    for share in FINER[: 2 if loose else 3]:
        basin.water[:] = start
        reached = _by_sweeps(basin, share, loose=loose)
        cycles += reached.cycles
        if reached.solved:
            return _with_cycles(reached, cycles)
        best = _better(best, reached, basin.water)
    if not loose:
        basin.water[:] = best[1] if best and np.isfinite(best[1]).all() else start
        reached = _by_steps(basin)
        cycles += reached.cycles
        best = _better(best, reached, basin.water)
    assert best is not None
    basin.water[:] = best[1]
    return _with_cycles(best[0], cycles)


def _by_sweeps(basin: Basin, share: float, *, loose: bool) -> Reached:
    """Cycle until the tolerances hold, the water blows up, or the cycles are spent."""
    settings = basin.settings
    courant = settings.courant * share
    way = "implicit" if share == 1.0 else "implicit, finer steps"
    most = int(settings.cycles_most / share) if not loose else settings.cycles_most
    reached = Reached(False, way, 0, np.inf, np.inf, np.inf, 0.0)
    for cycle in range(1, most + 1):
        before = basin.water.copy()
        basin.sweep(settings.sweeps, courant)
        basin.correct(settings.correction)
        basin.sweep(1, courant)
        reached = _measured(basin, before, way, cycle, loose=loose)
        if reached.solved or not np.isfinite(basin.water).all():
            return reached
    return reached


def _by_steps(basin: Basin) -> Reached:
    """Go on by explicit steps, each cell at its own, with the 1-D correction in between."""
    reached = Reached(False, "explicit", 0, np.inf, np.inf, np.inf, 0.0)
    for cycle in range(1, EXPLICIT_ROUNDS + 1):
        before = basin.water.copy()
        basin.explicit(EXPLICIT_STEPS)
        basin.correct(0.5 * basin.settings.correction)
        basin.explicit(EXPLICIT_STEPS // 5)
        reached = _measured(basin, before, "explicit", cycle, loose=False)
        if reached.solved or not np.isfinite(basin.water).all():
            return reached
    return reached


def _measured(basin: Basin, before: F8, way: str, cycle: int, *, loose: bool) -> Reached:
    """Return where the basin stands after a cycle."""
    settings, water = basin.settings, basin.water
    wide = LOOSE if loose else 1.0
    error, outflow = basin.balance()
    wet = np.maximum(water[:, 0], before[:, 0]) > CORRECTED_DEPTH
    change = (water - before)[wet]
    number = max(int(wet.sum()), 1)
    depth = float(np.sqrt((change[:, 0] ** 2).sum() / number))
    speed = float(np.sqrt((change[:, 1:] ** 2).sum() / number))
    solved = (
        error <= wide * settings.section_error
        and depth <= wide * settings.depth_change_m
        and speed <= wide * settings.speed_change_m_s
        and bool(wet.any())
    )
    return Reached(solved, way, cycle, error, depth, speed, outflow)


def _better(best: tuple[Reached, F8] | None, reached: Reached, water: F8) -> tuple[Reached, F8]:
    """Return the better of two answers: the one whose sections err less."""
    if best is None or not np.isfinite(best[0].section_error):
        return reached, water.copy()
    if np.isfinite(reached.section_error) and reached.section_error < best[0].section_error:
        return reached, water.copy()
    return best


def _with_cycles(reached: Reached, cycles: int) -> Reached:
    """Return what was reached with the cycles of all tries."""
    return Reached(
        reached.solved,
        reached.way,
        cycles,
        reached.section_error,
        reached.depth_change,
        reached.speed_change,
        reached.outflow,
    )
