"""Skeleton of a wet area as a graph of raster cells."""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx
import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, IntArray
from reachmap.base.patches import (
    EIGHT,
    Patches,
    cells_of,
    joined_to,
    on_border,
    steps_in,
    widened,
)
from reachmap.water.thin_lines import order_cells
from reachmap.water.thinning import thinned


@dataclass(frozen=True, slots=True)
class Strand:
    """A line of cells between two nodes: rows and columns, a cell of each node at its ends."""

    rows: IntArray
    cols: IntArray

    @property
    def length(self) -> float:
        """Return the length in cells."""
        return float(np.hypot(np.diff(self.rows), np.diff(self.cols)).sum())


def filled(wet: BoolArray, cells_low: float) -> BoolArray:
    """Return the wet area with dry holes of fewer than `cells_low` cells filled."""
    dry = Patches.of(~wet)
    small = (dry.sizes < cells_low) & ~dry.holding(on_border(wet.shape))
    small[0] = True  # the water itself
    return np.asarray(small[dry.labels])


def skeleton_graph(wet: BoolArray) -> nx.MultiGraph:
    """Return the skeleton of a wet area as a graph.

    Nodes are numbered, with `row` and `col` (floats: the mean of the cells where lines meet) and
    `clear`, the distance to the nearest dry cell [cells]; each edge holds a `strand`. A ring with
    nothing joined to it becomes one node with a loop.

    Notes
    -----
    Thinning by Guo and Hall (`water.thinning`). The number of independent loops is that of the
    holes.
    """
    padded = np.pad(wet, 1)
    thin = thinned(wet)
    around = _neighbours(thin)
    # Along a line a cell has two neighbours on it; an end has one, a meeting three or more.
    knots = thin & (around != 2)
    knots |= _ring_starts(thin, knots)
    found, count = ndimage.label(knots, EIGHT)
    labels: IntArray = np.asarray(found, dtype=np.int32)
    graph: nx.MultiGraph = nx.MultiGraph()
    if count:
        centres = np.array(ndimage.center_of_mass(knots, labels, range(1, count + 1)))
        clear = np.asarray(cKDTree(np.argwhere(_rim(padded)) - 1).query(centres)[0])
        for i, ((row, col), far) in enumerate(zip(centres, clear, strict=True), start=1):
            graph.add_node(i, row=float(row), col=float(col), clear=float(far))
    for strand in _strands(thin, labels):
        a, b = labels[strand.rows[0], strand.cols[0]], labels[strand.rows[-1], strand.cols[-1]]
        graph.add_edge(int(a), int(b), strand=strand)
    return graph


def _neighbours(mask: BoolArray) -> IntArray:
    """Return how many of the eight cells around each cell of a mask are in it; -1 outside it."""
    rows, cols = cells_of(mask)
    padded = np.pad(mask, 1)
    d_row, d_col = steps_in(EIGHT)
    around = padded[rows[:, None] + 1 + d_row, cols[:, None] + 1 + d_col].sum(axis=1) - 1
    out = np.full(mask.shape, -1, dtype=np.int32)
    out[rows, cols] = around
    return out


def _rim(wet: BoolArray) -> BoolArray:
    """Return the dry neighbours of wet cells."""
    return np.asarray(widened(wet) & ~wet)


def _ring_starts(thin: BoolArray, knots: BoolArray) -> BoolArray:
    """Return one cell of each piece of skeleton that has no knot of its own: rings."""
    pieces, _ = ndimage.label(thin & ~joined_to(knots, thin, EIGHT), EIGHT)
    _, first = np.unique(pieces, return_index=True)
    out = np.zeros_like(thin)
    out.ravel()[first] = True
    return np.asarray(out & (pieces > 0))


def _strands(thin: BoolArray, labels: IntArray) -> list[Strand]:
    """Return every line of cells between knots, each once."""
    free = thin & (labels == 0)
    pieces, _ = ndimage.label(free, EIGHT)
    found: list[Strand] = []
    places = ndimage.find_objects(pieces)
    for number, place in enumerate(places, start=1):
        rows, cols = (at.astype(np.int32) for at in np.nonzero(pieces[place] == number))
        order = order_cells(rows, cols)
        row = rows[order] + place[0].start
        col = cols[order] + place[1].start
        head = _touching(labels, int(row[0]), int(col[0]))
        foot = _touching(labels, int(row[-1]), int(col[-1]))
        if len(row) == 1 and len(head) > 1:
            foot = head[1:]
        if not head or not foot:
            continue
        corner = labels[head[0]] == labels[foot[0]] if len(row) == 1 else head[0] == foot[0]
        if len(row) < 3 and corner:
            continue  # three cells that touch at a corner enclose nothing
        path = [head[0], *zip(row.tolist(), col.tolist(), strict=True), foot[0]]
        found.append(Strand(*np.array(path, dtype=np.int32).T))
    return found


def _touching(labels: IntArray, row: int, col: int) -> list[tuple[int, int]]:
    """Return the knot cells next to a cell, nearest first, one for each knot."""
    seen: dict[int, tuple[float, tuple[int, int]]] = {}
    for a in (-1, 0, 1):
        for b in (-1, 0, 1):
            r, c = row + a, col + b
            if (a or b) and 0 <= r < labels.shape[0] and 0 <= c < labels.shape[1] and labels[r, c]:
                far = float(np.hypot(a, b))
                if labels[r, c] not in seen or far < seen[labels[r, c]][0]:
                    seen[labels[r, c]] = (far, (r, c))
    return [place for _, place in sorted(seen.values())]


def pruned(graph: nx.MultiGraph, spur_half_widths: float) -> nx.MultiGraph:
    """Return the graph without spurs that are only bays of the bank, and without idle nodes.

    Parameters
    ----------
    graph
        From `skeleton_graph`; not changed.
    spur_half_widths
        A dead end shorter than this many times the room at its root goes, shortest first.
    """
    out = graph.copy()
    while True:
        spurs = []
        for end in (n for n in out if out.degree(n) == 1):
            ((_, root, key, strand),) = list(out.edges(end, keys=True, data="strand"))
            if out.degree(root) > 1 and strand.length < spur_half_widths * out.nodes[root]["clear"]:
                spurs.append((strand.length, end, root, key))
        if not spurs:
            break
        _, end, root, key = min(spurs)
        out.remove_edge(end, root, key)
        out.remove_node(end)
        _join_at(out, root)
    for node in list(out):
        _join_at(out, node)
    return out


def _join_at(graph: nx.MultiGraph, node: int) -> None:
    """Make one line of the two that meet at a node, where only two do."""
    if node not in graph or graph.degree(node) != 2 or graph.has_edge(node, node):
        return
    (_, a, key_a, first), (_, b, key_b, second) = list(graph.edges(node, keys=True, data="strand"))
    spot = graph.nodes[node]
    one = _ending_at(first, spot["row"], spot["col"])
    two = _ending_at(second, spot["row"], spot["col"])
    rows = np.r_[one.rows, two.rows[::-1]]
    cols = np.r_[one.cols, two.cols[::-1]]
    graph.remove_edge(node, a, key_a)
    graph.remove_edge(node, b, key_b)
    graph.remove_node(node)
    graph.add_edge(a, b, strand=Strand(rows, cols))


def _ending_at(strand: Strand, row: float, col: float) -> Strand:
    """Return the strand turned so that its last cell is the one nearest a place."""
    head = np.hypot(strand.rows[0] - row, strand.cols[0] - col)
    foot = np.hypot(strand.rows[-1] - row, strand.cols[-1] - col)
    return strand if foot <= head else Strand(strand.rows[::-1], strand.cols[::-1])
