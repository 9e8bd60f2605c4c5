"""Places followed down the current, and ground followed on foot, until they come to a hazard."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.angler._kernels_near import follow_many, walk_back
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.patches import nearest_cells
from reachmap.water.mesh import MOVES, cheapest, mesh_of

STILL_M_S = 1e-3
"""Slower water carries nothing; well under what the engine resolves."""
STEPS = np.array([*MOVES, *[(-row, -col) for row, col in MOVES]], dtype=np.int32)
"""Steps to all neighbours of a cell, as the mesh takes them."""


@dataclass(frozen=True, slots=True)
class Drifts:
    """n places followed down the current, a cell a step.

    `row` and `col` have shape (n, steps) and hold cells, -1 after the end; `whole` shape (n,) says
    whether the whole length is known: not so where a drift runs into unknown water or leaves the
    raster.
    """

    row: IntArray
    col: IntArray
    whole: BoolArray
    cell: float

    def first(self, mask: BoolArray) -> FloatArray:
        """Return the distance down each drift to the first cell of a mask [m]; NaN: not met."""
        there = self.row >= 0
        hit = there & mask[np.where(there, self.row, 0), np.where(there, self.col, 0)]
        return np.where(hit.any(axis=1), hit.argmax(axis=1) * self.cell, np.nan)


def follow_current(view: View, row: IntArray, col: IntArray, length_m: float) -> Drifts:
    """Return where the current takes what is let go in cells of the raster.

    Parameters
    ----------
    view
        One flow over the ground.
    row, col
        Cells to begin in, shape (n,); one that is not wet goes nowhere.
    length_m
        How far to follow [m].

    Notes
    -----
    Each step goes one cell along the depth-averaged current of the nearest cell. A drift ends on
    dry ground and where the water stands still.
    """
    steps = int(np.ceil(length_m / view.cell)) + 1
    current = view.east, view.north, view.speed
    rows, cols, whole = follow_many(view.wet, view.unknown, *current, row, col, steps, STILL_M_S)
    return Drifts(rows, cols, whole, view.cell)


def nearest_water(
    view: View, row: IntArray, col: IntArray, slip_m: float
) -> tuple[IntArray, IntArray, BoolArray]:
    """Return row and column of the wet cell nearest to each cell, and whether it is in reach.

    All of the shape of `row` and `col`; in reach is what is wet itself or within `slip_m` [m] of
    it. The water of what is not in reach is of no account.
    """
    reach = int(np.ceil(slip_m / view.cell))
    away, at_row, at_col = nearest_cells(view.wet, row.ravel(), col.ravel(), reach)
    near = away * view.cell <= slip_m
    return at_row.reshape(row.shape), at_col.reshape(row.shape), near.reshape(row.shape)


def walk_distance(reach: BoolArray, goal: BoolArray, cell: float, within_m: float) -> FloatArray:
    """Return how far one walks from each cell to the nearest of a goal [m]; NaN beyond the look.

    Parameters
    ----------
    reach
        Ground and water one gets to on foot, shape (y, x).
    goal
        Cells to come to, same shape; only those within `reach` count.
    cell
        Size of the cells [m].
    within_m
        How far to look [m].
    """
    found = np.full(reach.shape, np.nan)
    rows, cols = np.nonzero(goal & reach)
    if not rows.size:
        return found
    margin = int(np.ceil(within_m / cell)) + 1
    window = (
        slice(max(int(rows.min()) - margin, 0), int(rows.max()) + margin + 1),
        slice(max(int(cols.min()) - margin, 0), int(cols.max()) + margin + 1),
    )
    mesh = mesh_of(reach[window])
    starts = np.flatnonzero((goal & reach)[window][mesh.rows, mesh.cols]).astype(np.int32)
    cost, _, _ = cheapest(mesh, mesh.length, mesh.length, starts, starts[:1])
    part = np.full(reach[window].shape, np.nan)
    part[mesh.rows, mesh.cols] = np.where(cost * cell <= within_m, cost * cell, np.nan)
    found[window] = part
    return found


def way_in_cost(reach: BoolArray, starts: BoolArray, cell: float) -> FloatArray:
    """Return how far one walks from the nearest of `starts` to each cell [m]; inf: no way there.

    Parameters
    ----------
    reach, starts
        Ground and water one gets to on foot, and where one begins; shape (y, x).
    cell
        Size of the cells [m].
    """
    cost = np.full(reach.shape, np.inf)
    if not (starts & reach).any():
        return cost
    mesh = mesh_of(reach)
    begin = np.flatnonzero((starts & reach)[mesh.rows, mesh.cols]).astype(np.int32)
    found, _, _ = cheapest(mesh, mesh.length, mesh.length, begin, begin[:1])
    cost[mesh.rows, mesh.cols] = found * cell
    return cost


def route_back(
    cost: FloatArray, row: int, col: int, cell: float
) -> tuple[IntArray, IntArray, FloatArray]:
    """Return the shortest way from a cell back to where `cost` is 0: rows, columns, metres walked.

    Parameters
    ----------
    cost
        From `way_in_cost`.
    row, col
        Where the way begins; without a way there the answer is empty.
    cell
        Size of the cells [m].

    Notes
    -----
    Each step goes to the neighbour whose cost and distance together are least: the step by which
    Dijkstra's search came there.
    """
    if not np.isfinite(cost[row, col]):
        return np.zeros(0, np.int32), np.zeros(0, np.int32), np.zeros(0)
    rows, cols = np.array(walk_back(cost, row, col, STEPS, cell), dtype=np.int32).T
    return rows, cols, np.asarray(cost[row, col] - cost[rows, cols])
