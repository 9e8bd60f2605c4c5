"""The best ways for all rods together: a small integer program, solved by scipy's HiGHS.

Each rod takes one of its ways through the day (a column); rods with equal offers share columns.
No run holds more rods in a turn than have room in it. The objective is the worth of all rods'
ways, less the loss of each rod that fishes a run after another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.planner.guide.ways import IDLE, Frame, Way

Chosen = tuple[tuple[int, ...], ...]
"""The run of each rod in each turn."""

Rows = tuple[FloatArray, FloatArray]
"""Rows of the program, shape (rows, variables), and their bounds (rows,)."""

GAP = 1e-6
"""Relative gap at which a plan counts as optimal: rounding."""

ROUNDING = 1e-6
"""Difference of costs that counts as none."""

FIRST_TRIED = 300
"""Number of ways, those of least reduced cost, in the first integer program."""


@dataclass(frozen=True, slots=True)
class Group:
    """Rods with equal offers: their numbers, and the ways open to each of them."""

    rods: tuple[int, ...]
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class Solved:
    """The ways taken, one a rod; their total worth, and `value`, less the price of changes."""

    ways: tuple[Way, ...]
    worth: float
    value: float

    @property
    def spots(self) -> Chosen:
        """Return the run of each rod in each turn."""
        return tuple(way.spots for way in self.ways)


@dataclass(frozen=True, slots=True)
class Program:
    """The integer program of one day.

    Variables, in this order: how many rods of its group take a way, one for each of `columns`
    (pairs of group and way), and the passes beyond the first, one for each run. `gain` is the
    objective, `same` the rows that hold with equality, `over` those with an upper bound, `whole` is
    1 for integer variables, `most` the upper bounds of the variables.
    """

    columns: tuple[tuple[int, Way], ...]
    gain: FloatArray
    same: Rows
    over: Rows
    whole: IntArray
    most: FloatArray


def plan_worth(ways: Sequence[Way], frame: Frame) -> float:
    """Return the total worth of all rods' ways.

    Parameters
    ----------
    ways
        One a rod.
    frame
        The day.

    Notes
    -----
    The sum of `Frame.gain_of` over the rods, less (1 - `follow_share`) of the worth of a run's pass
    for each rod that fishes it beyond the first.
    """
    total = sum(way_gain(way, frame) for way in ways)
    for number, spot in enumerate(frame.spots):
        passes = sum(number in way.spots for way in ways)
        total -= (1 - frame.settings.follow_share) * spot.pass_worth * max(passes - 1, 0)
    return total


def way_gain(way: Way, frame: Frame) -> float:
    """Return the contribution of one rod's way to the plan."""
    settings = frame.settings
    idle = sum(spot == IDLE for spot in way.spots)
    unrest = way.moved_min + settings.upstream_min * way.upstream + settings.wait_min * idle
    return frame.gain_of(way.worth, unrest)


def best_ways(
    groups: Sequence[Group], frame: Frame, *, near: Chosen | None = None
) -> Solved | None:
    """Return the ways to take; None where some rod has none, or not all find room.

    Parameters
    ----------
    groups
        The rods, every one in one group; with `near` each rod a group of its own.
    frame
        The day.
    near
        An earlier plan of the same rods and turns: each turn of a rod that differs from it costs
        `change_share` of a turn at the best rate. Its runs need not be among the ways.
    """
    if not groups or not all(group.ways for group in groups):
        return None
    program = _program(groups, frame)
    price = np.zeros(program.gain.size)
    if near is not None:
        turn = frame.settings.change_share * frame.best_rate / 6000.0 * frame.turn_min
        price[: len(program.columns)] = [
            turn * changes(way.spots, near[groups[number].rods[0]])
            for number, way in program.columns
        ]
    found = _solve(program, groups, price - program.gain)
    if found is None:
        return None
    ways, cost = found
    return Solved(ways, plan_worth(ways, frame), -cost)


def changes(spots: Sequence[int], before: Sequence[int]) -> int:
    """Return in how many turns two ways differ."""
    return sum(a != b for a, b in zip(spots, before, strict=True))


def _program(groups: Sequence[Group], frame: Frame) -> Program:
    """Return the program of a day."""
    spots = frame.spots
    columns = tuple((number, way) for number, mine in enumerate(groups) for way in mine.ways)
    count, turns = len(columns), frame.turns
    size = count + len(spots)
    group_of = np.array([number for number, _ in columns])
    at = np.array([way.spots for _, way in columns]).reshape(count, turns)
    gain, most = np.zeros(size), np.ones(size)
    gain[:count] = [way_gain(way, frame) for _, way in columns]
    lost = 1 - frame.settings.follow_share
    gain[count:] = [-lost * spot.pass_worth for spot in spots]
    rods = np.array([len(group.rods) for group in groups])
    most[:count] = rods[group_of]
    most[count:] = np.inf
    same = np.zeros((len(groups), size))
    same[group_of, np.arange(count)] = 1.0
    over, room = _over(at, frame, size)
    whole = np.ones(size, dtype=np.int32)
    whole[count:] = 0
    return Program(columns, gain, (same, rods.astype(float)), (over, room), whole, most)


def _solve(
    program: Program, groups: Sequence[Group], cost: FloatArray
) -> tuple[tuple[Way, ...], float] | None:
    """Return the ways that cost least, one a rod, and their cost; None where there is no plan.

    Notes
    -----
    Most ways are in no good plan. The linear relaxation bounds the cost of any plan from below, and
    bound plus reduced cost that of any plan with a given way. First the ways of least reduced cost
    alone are solved, then all whose bound is below the cost found. That is exact, and leaves HiGHS
    a few hundred columns of thousands.
    """
    count = len(program.columns)
    relaxed = _relaxed(program, cost)
    if relaxed is None:
        return None
    bound, reduced = relaxed
    promising = np.ones(cost.size, dtype=bool)
    promising[np.argsort(reduced[:count], kind="stable")[FIRST_TRIED:]] = False
    found = _whole(program, cost, promising)
    could = np.ones(cost.size, dtype=bool)
    if found is not None:
        could[:count] = reduced[:count] <= float(cost @ found) - bound + ROUNDING
    if (could & ~promising).any():
        found = _whole(program, cost, could)
    if found is None:
        return None
    taken: dict[int, Way] = {}
    left = [list(group.rods) for group in groups]
    for place, (number, way) in enumerate(program.columns):
        for _ in range(round(float(found[place]))):
            taken[left[number].pop(0)] = way
    return tuple(taken[rod] for rod in sorted(taken)), float(cost @ found)


def _relaxed(program: Program, cost: FloatArray) -> tuple[float, FloatArray] | None:
    """Return the cost of the linear relaxation and the reduced costs of the variables, >= 0."""
    found = linprog(
        cost,
        A_ub=program.over[0],
        b_ub=program.over[1],
        A_eq=program.same[0],
        b_eq=program.same[1],
        bounds=[(0.0, float(most)) for most in program.most],
    )
    if found.x is None:
        return None
    return float(cost @ found.x), np.asarray(found.lower.marginals)


def _whole(program: Program, cost: FloatArray, allowed: BoolArray) -> FloatArray | None:
    """Return the optimal integer solution, variables not allowed at 0; None where infeasible."""
    kept = np.flatnonzero(allowed)
    (same, many), (over, room) = program.same, program.over
    rows = [
        LinearConstraint(same[:, kept], many, many),
        LinearConstraint(over[:, kept], -np.inf, room),
    ]
    found = milp(
        cost[kept],
        integrality=program.whole[kept],
        bounds=Bounds(0, program.most[kept]),
        constraints=rows,
        options={"mip_rel_gap": GAP},
    )
    if found.x is None:
        return None
    values = np.zeros(cost.size)
    values[kept] = found.x
    return values


def _over(at: IntArray, frame: Frame, size: int) -> Rows:
    """Return the rows on room in each run and turn, and those that count further passes.

    Parameters
    ----------
    at
        Run of each way in each turn, shape (ways, turns).
    frame
        The day.
    size
        Number of variables.
    """
    # Row spot * turns + turn: rods in that run in that turn <= its room. Then a row for each run:
    # rods that fish it - further passes <= 1; `gain` charges the further passes.
    count, turns = at.shape
    spots = len(frame.spots)
    place, turn = np.nonzero(at != IDLE)
    over = np.zeros((spots * (turns + 1), size))
    over[at[place, turn] * turns + turn, place] = 1.0
    first = spots * turns
    for spot in range(spots):
        over[first + spot, :count] = (at == spot).any(axis=1)
        over[first + spot, count + spot] = -1.0
    room = np.repeat([float(spot.holds) for spot in frame.spots], turns)
    return over, np.r_[room, np.ones(spots)]
