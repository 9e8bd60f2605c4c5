"""Compiled search for the cheapest ways over a graph of cells; plain arrays in and out."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import FloatArray, IntArray


@njit(cache=True, error_model="numpy")
def steps_by_cell(
    a: IntArray, b: IntArray, forth: FloatArray, back: FloatArray, count: int
) -> tuple[IntArray, IntArray, FloatArray]:
    """Return the steps that may be taken from each of `count` cells, in the order of the cells.

    Where each cell's begin, where each step leads, and its cost; the steps of cell i are those from
    number `begin[i]` to before `begin[i + 1]`. `forth` is the cost of each step from `a` to `b`,
    `back` from `b` to `a`; inf forbids it.
    """
    begin = np.zeros(count + 1, dtype=np.int32)
    for k in range(a.size):
        if np.isfinite(forth[k]):
            begin[a[k] + 1] += 1
        if np.isfinite(back[k]):
            begin[b[k] + 1] += 1
    for i in range(count):
        begin[i + 1] += begin[i]
    to, cost = np.empty(begin[count], dtype=np.int32), np.empty(begin[count])
    filled = begin[:count].copy()
    for k in range(a.size):
        if np.isfinite(forth[k]):
            to[filled[a[k]]], cost[filled[a[k]]] = b[k], forth[k]
            filled[a[k]] += 1
        if np.isfinite(back[k]):
            to[filled[b[k]]], cost[filled[b[k]]] = a[k], back[k]
            filled[b[k]] += 1
    return begin, to, cost


@njit(cache=True, error_model="numpy")
def least_costs(
    begin: IntArray, to: IntArray, step: FloatArray, starts: IntArray, first: float
) -> tuple[FloatArray, IntArray]:
    """Return the least cost from any of `starts` to each cell, and the cell one comes from.

    `begin, to, step` are from `steps_by_cell`; `first` is the cost at a start. The cost is inf and
    the cell -1 where no way leads; the cell is -1 at a start too.
    """
    count = begin.size - 1
    cost = np.full(count, np.inf)
    before = np.full(count, -1, dtype=np.int32)
    # The cells still to be gone on from as a heap by cost, and where in it each cell is: -1 none.
    heap, place = np.empty(count, dtype=np.int32), np.full(count, -1, dtype=np.int32)
    size = 0
    for start in starts:
        if cost[start] > first:
            cost[start], heap[size], place[start] = first, start, size
            size += 1
    while size:
        cell = heap[0]
        size -= 1
        _down(heap, place, cost, heap[size], size)
        place[cell] = -1
        for k in range(begin[cell], begin[cell + 1]):
            there, whole = to[k], cost[cell] + step[k]
            if whole < cost[there]:
                cost[there], before[there] = whole, cell
                if place[there] < 0:
                    place[there] = size
                    size += 1
                _up(heap, place, cost, there)
    return cost, before


@njit(cache=True, error_model="numpy", inline="always")
def _up(heap: IntArray, place: IntArray, cost: FloatArray, cell: int) -> None:
    """Move a cell whose cost fell towards the top of the heap."""
    at = place[cell]
    while at > 0:
        over = (at - 1) // 2
        if cost[heap[over]] <= cost[cell]:
            break
        heap[at] = heap[over]
        place[heap[at]] = at
        at = over
    heap[at], place[cell] = cell, at


@njit(cache=True, error_model="numpy", inline="always")
def _down(heap: IntArray, place: IntArray, cost: FloatArray, cell: int, size: int) -> None:
    """Put a cell in at the top of a heap of `size` cells whose top is free, and move it down."""
    at = 0
    while 2 * at + 1 < size:
        under = 2 * at + 1
        if under + 1 < size and cost[heap[under + 1]] < cost[heap[under]]:
            under += 1
        if cost[heap[under]] >= cost[cell]:
            break
        heap[at] = heap[under]
        place[heap[at]] = at
        at = under
    if size:
        heap[at], place[cell] = cell, at
