"""Islands of the drafted water, and the side channels behind them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import networkx as nx
import numpy as np
from scipy.ndimage import distance_transform_edt
from shapely import LineString, Polygon

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.grid import Grid
from reachmap.base.patches import Patches, on_border
from reachmap.draft.water import Water
from reachmap.ground.profiles import smoothed_along
from reachmap.water.skeleton import Strand, pruned, skeleton_graph

SPUR_HALF_WIDTHS = 3.0
"""Dead ends of the skeleton shorter than this are bays (the channels' own number in `water`)."""

MAIN_SHARE = 0.5
"""A strand with this share of its cells close to the main line belongs to the main channel."""


@dataclass(frozen=True, slots=True)
class SideChannel:
    """A side channel: its centreline, downstream, and typical width [m]."""

    line: LineString
    width: float


def island_cells(water: Water) -> BoolArray:
    """Return the dry cells enclosed by the drafted water."""
    dry = Patches.of(~water.wet)
    inner = ~dry.holding(on_border(water.wet.shape))
    inner[0] = False
    return np.asarray(inner[dry.labels])


def islands(water: Water, grid: Grid) -> list[Polygon]:
    """Return the outlines of the islands, the largest first."""
    labels = Patches.of(island_cells(water)).labels
    found = [outline for outline, _ in grid.polygons(labels)]
    return sorted(found, key=lambda one: -one.area)


def side_channels(water: Water, grid: Grid) -> list[SideChannel]:
    """Return the channels that leave the main one and rejoin it, or another side channel.

    The skeleton of the wet area, bays pruned; strands along the main line left out. Of the rest
    ways from the uppermost to the lowest meeting with the main channel are taken, then what joins
    these, until no strand is left; dead arms are none.
    """
    graph = pruned(skeleton_graph(water.wet), SPUR_HALF_WIDTHS)
    room = np.asarray(distance_transform_edt(water.wet)) * grid.cell
    near_main = _near_main_line(water, grid, room)
    side: nx.MultiGraph = nx.MultiGraph()
    meeting: set[Any] = set()
    for a, b, strand in graph.edges(data="strand"):
        if near_main[strand.rows, strand.cols].mean() >= MAIN_SHARE and graph.degree(a) != 1:
            meeting |= {a, b}
        elif graph.degree(a) > 1 and graph.degree(b) > 1:
            side.add_edge(a, b, strand=strand, length=strand.length)
    for a, b, strand in graph.edges(data="strand"):
        if near_main[strand.rows, strand.cols].mean() >= MAIN_SHARE:
            meeting |= {a, b}
    station = {
        n: float(water.station[round(spot["row"]), round(spot["col"])])
        for n, spot in graph.nodes(data=True)
    }
    found = []
    while True:
        way = _longest_way(side, meeting, station)
        if way is None:
            break
        meeting |= set(way)
        strands = []
        for a, b in itertools.pairwise(way):
            key = min(side[a][b], key=lambda k: side[a][b][k]["length"])
            strands.append((a, side[a][b][key]["strand"]))
            side.remove_edge(a, b, key)
        found.append(_channel(strands, graph, grid, room))
    return [one for one in found if one.line.length > water.width]


def _near_main_line(water: Water, grid: Grid, room: FloatArray) -> BoolArray:
    """Return the cells that lie nearer to the main line than its own banks do."""
    rows, cols, inside = grid.index(water.line.x, water.line.y)
    on = np.zeros(grid.shape, dtype=bool)
    on[rows[inside], cols[inside]] = True
    away, (row, col) = distance_transform_edt(~on, return_indices=True)
    reach = np.maximum(room[row, col], 2 * grid.cell)
    return np.asarray(away * grid.cell <= 0.7 * reach)


def _longest_way(
    side: nx.MultiGraph, meeting: set[Any], station: dict[Any, float]
) -> list[Any] | None:
    """Return the nodes of a way between two meetings that spans the most river, downstream."""
    best: list[Any] | None = None
    span = -1.0
    for part in nx.connected_components(side):
        ends = sorted((n for n in part if n in meeting and side.degree(n)), key=station.__getitem__)
        if len(ends) < 2 or station[ends[-1]] - station[ends[0]] <= span:
            continue
        way = nx.shortest_path(side, ends[0], ends[-1], weight="length")
        if len(way) > 1:
            best, span = way, station[ends[-1]] - station[ends[0]]
    return best


def _channel(
    strands: list[tuple[Any, Strand]],
    graph: nx.MultiGraph,
    grid: Grid,
    room: FloatArray,
) -> SideChannel:
    """Return strands one after the other as a smooth line, and their width."""
    rows, cols = [], []
    for node, strand in strands:
        spot = graph.nodes[node]
        near = np.hypot(strand.rows[[0, -1]] - spot["row"], strand.cols[[0, -1]] - spot["col"])
        turn = slice(None, None, -1 if near[0] > near[1] else 1)
        rows.append(strand.rows[turn])
        cols.append(strand.cols[turn])
    row, col = np.concatenate(rows), np.concatenate(cols)
    width = 2 * float(np.median(room[row, col]))
    points = grid.points(row, col)
    sigma = max(width / 4 / grid.cell, 2.0)
    if len(points) > 4:
        points = np.column_stack([smoothed_along(axis, sigma) for axis in points.T])
    line = LineString(points).simplify(max(grid.cell / 2, 0.5))
    return SideChannel(line, width)
