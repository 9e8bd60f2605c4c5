"""Ordering of the cells of a thin line, of a ridge or a skeleton, from end to end."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from reachmap.base.arrays import IntArray


def order_cells(rows: IntArray, cols: IntArray) -> IntArray:
    """Return the order of the cells on the longest line through a piece of ridge.

    It begins at the end that is listed first.

    Parameters
    ----------
    rows, cols
        Cells that touch each other at sides or corners, shape (n,), n >= 1.

    Notes
    -----
    The longest of the shortest ways between its cells, found from both ends (exact for a tree, as a
    ridge one cell wide is): short side twigs are left out.
    """
    points = np.column_stack((rows, cols)).astype(float)
    pairs = cKDTree(points).query_pairs(1.5, output_type="ndarray")
    if pairs.size == 0:
        return np.zeros(1, dtype=np.int32)
    length = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    graph: Any = csr_matrix((length, (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points)))
    far = _farthest(graph, 0)[0]
    end, before = _farthest(graph, far)
    way = [end]
    while way[-1] != far:
        way.append(int(before[way[-1]]))
    return np.array(way if way[0] <= way[-1] else way[::-1], dtype=np.int32)


def _farthest(graph: Any, start: int) -> tuple[int, IntArray]:
    """Return the cell farthest from `start` along the ridge, and how each cell is reached."""
    cost, before = dijkstra(  # type: ignore[call-overload]
        graph, directed=False, indices=start, return_predecessors=True
    )
    cost[~np.isfinite(cost)] = -1
    return int(np.argmax(cost)), before
