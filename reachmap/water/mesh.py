"""Wet cells as a graph of steps to their neighbours, for least-cost routes over the water."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.patches import cells_of
from reachmap.water._kernels_ways import least_costs, steps_by_cell

MOVES = ((0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (2, -1), (1, -2))
"""Steps to half of the neighbours, the knight's moves among them: a way over 16 directions is at
most 2.8 % longer than the straight one (1/cos of half of 26.6 degrees)."""

AT_START = 1e-9
"""Cost at a start: a way as long as a limit to the last digit counts as beyond it."""


@dataclass(frozen=True, slots=True)
class Mesh:
    """Cells and the steps between them: each step once, from the cell `a` to the cell `b`.

    `rows, cols` say where the cells are; `move` the place of each step in `moves` (rows, columns).
    """

    rows: IntArray
    cols: IntArray
    a: IntArray
    b: IntArray
    move: CodeArray
    moves: tuple[tuple[int, int], ...]

    @property
    def d_row(self) -> FloatArray:
        """Return the rows of the unit direction of each step."""
        return np.array([row / np.hypot(row, col) for row, col in self.moves])[self.move]

    @property
    def d_col(self) -> FloatArray:
        """Return the columns of the unit direction of each step."""
        return np.array([col / np.hypot(row, col) for row, col in self.moves])[self.move]

    @property
    def length(self) -> FloatArray:
        """Return the length of each step [cells]."""
        return np.array([np.hypot(row, col) for row, col in self.moves])[self.move]

    @property
    def size(self) -> int:
        """Return how many cells there are."""
        return int(self.rows.size)


KING = MOVES[:4]
"""Steps to half of the eight cells beside."""


def mesh_of(mask: BoolArray, moves: tuple[tuple[int, int], ...] = MOVES) -> Mesh:
    """Return the cells of a mask and the steps between them; no step crosses a cell outside it.

    `moves` are the steps allowed, each one way. A knight's move needs both cells it slips between,
    a diagonal at least one of its two.
    """
    rows, cols = cells_of(mask)
    if not rows.size:
        none = np.zeros(0, dtype=np.int32)
        return Mesh(none, none, none, none, none.astype(np.uint8), moves)
    # Two cells of rim: a knight's move from the outermost cell stays inside the array.
    first = np.array([rows.min(), cols.min()], dtype=np.int32) - 2
    rows, cols = rows - first[0], cols - first[1]
    number = np.full((int(rows.max()) + 3, int(cols.max()) + 3), -1, dtype=np.int32)
    number[rows, cols] = np.arange(rows.size, dtype=np.int32)
    padded = number >= 0
    parts: list[tuple[IntArray, IntArray]] = []
    for row, col in moves:
        target = number[rows + row, cols + col]
        clear = target >= 0
        if max(abs(row), abs(col)) == 2:
            # The two cells a knight's move passes between: half
            # of it, rounded towards 0, and the rest of it.
            half = (int(np.trunc(row / 2)), int(np.trunc(col / 2)))
            rest = (row - half[0], col - half[1])
            clear &= padded[rows + half[0], cols + half[1]] & padded[rows + rest[0], cols + rest[1]]
        elif row and col:
            clear &= padded[rows + row, cols] | padded[rows, cols + col]
        start = np.flatnonzero(clear).astype(np.int32)
        parts.append((start, target[start]))
    counts = [start.size for start, _ in parts]
    return Mesh(
        rows=rows + first[0],
        cols=cols + first[1],
        a=np.concatenate([start for start, _ in parts]),
        b=np.concatenate([end for _, end in parts]),
        move=np.repeat(np.arange(len(moves), dtype=np.uint8), counts),
        moves=moves,
    )


def cheapest_route(
    mesh: Mesh, forth: FloatArray, back: FloatArray, starts: IntArray, ends: IntArray
) -> tuple[FloatArray, IntArray, float]:
    """Return the cheapest cost from any start to each cell, the cheapest way, and its cost.

    Parameters
    ----------
    mesh
        The cells.
    forth, back
        Cost of each step from a to b, and from b to a, >= 0; inf forbids it.
    starts, ends
        Numbers of cells, at least one each.

    Returns
    -------
    cost, way, total
        Cost per cell (inf where it cannot be reached); numbers of the cells from a start to an end;
        its cost. The way is empty and the cost inf where no end can be reached.

    Notes
    -----
    Dijkstra (1959, Numer. Math. 1:269), from all starts at once.
    """
    steps = steps_by_cell(mesh.a, mesh.b, forth, back, mesh.size)
    cost, before = least_costs(*steps, starts, AT_START)
    last = int(ends[np.argmin(cost[ends])])
    if not np.isfinite(cost[last]):
        return cost, np.zeros(0, dtype=np.int32), float("inf")
    way = [last]
    while (step := int(before[way[-1]])) >= 0:
        way.append(step)
    return cost, np.array(way[::-1], dtype=np.int32), float(cost[last])
