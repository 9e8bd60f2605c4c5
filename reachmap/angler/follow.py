"""Places followed down the current, and ground followed on foot, until they come to a hazard."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from reachmap.angler._kernels_near import follow_many, walk_back
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Cutout
from reachmap.base.patches import nearest_cells
from reachmap.water.mesh import MOVES, cheapest_route, mesh_of

STILL_M_S = 1e-3
"""Slower water carries nothing; well under what the engine resolves."""
STEPS = np.array([*MOVES, *[(-row, -col) for row, col in MOVES]], dtype=np.int32)
"""Steps to all neighbours of a cell, as the mesh takes them."""


@dataclass(frozen=True, eq=False)
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

    @cached_property
    def _spans(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Return the least and the greatest row and column that any drift comes to."""
        met = self.row >= 0
        if not met.any():
            return (0, -1), (0, -1)
        rows, cols = self.row[met], self.col[met]
        return (int(rows.min()), int(rows.max())), (int(cols.min()), int(cols.max()))

    def first(self, mask: Cutout) -> FloatArray:
        """Return the distance down each drift to the first cell of a mask [m]; NaN: not met."""
        if not all(
            low < span.stop and high >= span.start
            for (low, high), span in zip(self._spans, mask.window, strict=True)
        ):
            return np.full(self.whole.shape, np.nan)
        hit = mask.at(self.row, self.col, False)
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


def walk_distance(reach: BoolArray, goal: Cutout, cell: float, within_m: float) -> Cutout:
    """Return the walking distance from cells about a goal to the nearest of it [m]; NaN beyond.

    Parameters
    ----------
    reach
        Ground and water one gets to on foot, shape (y, x).
    goal
        Mask of cells to come to; only those within `reach` count.
    cell
        Size of the cells [m].
    within_m
        How far to look [m].
    """
    rows, cols = np.nonzero(goal.values & reach[goal.window])
    if not rows.size:
        return Cutout(goal.window, np.full(goal.values.shape, np.nan))
    rows, cols = rows + goal.window[0].start, cols + goal.window[1].start
    margin = int(np.ceil(within_m / cell)) + 1
    window = (
        slice(max(int(rows.min()) - margin, 0), int(rows.max()) + margin + 1),
        slice(max(int(cols.min()) - margin, 0), int(cols.max()) + margin + 1),
    )
    mesh = mesh_of(reach[window])
    begin = goal.at(mesh.rows + window[0].start, mesh.cols + window[1].start, False)
    starts = np.flatnonzero(begin).astype(np.int32)
    length = mesh.length
    cost, _, _ = cheapest_route(mesh, length, length, starts, starts[:1])
    part = np.full(reach[window].shape, np.nan)
    part[mesh.rows, mesh.cols] = np.where(cost * cell <= within_m, cost * cell, np.nan)
    return Cutout(window, part)


def way_in_cost(reach: BoolArray, starts: BoolArray, cell: float) -> FloatArray:
    """Return the walking distance from the nearest of `starts` to each cell [m]; inf: no way.

    Parameters
    ----------
    reach, starts
        Ground and water one gets to on foot, and where one begins; shape (y, x).
    cell
        Size of the cells [m].
    """
    if not (starts & reach).any():
        return np.broadcast_to(np.inf, reach.shape)  # one number, in the room of one
    cost = np.full(reach.shape, np.inf)
    mesh = mesh_of(reach)
    begin = np.flatnonzero((starts & reach)[mesh.rows, mesh.cols]).astype(np.int32)
    length = mesh.length
    found, _, _ = cheapest_route(mesh, length, length, begin, begin[:1])
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
