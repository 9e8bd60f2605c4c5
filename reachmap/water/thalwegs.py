"""The thalweg of each channel: the line that follows its strongest current."""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx
import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.water.field import WaterField
from reachmap.water.mesh import cheapest_route, mesh_of
from reachmap.water.settings import ChannelSettings


@dataclass(frozen=True, slots=True)
class Thalweg:
    """A channel's strongest current, downstream: cells, distance along [m], and what runs there."""

    channel: str
    rows: IntArray
    cols: IntArray
    along: FloatArray
    points: FloatArray
    bed: FloatArray
    depth: FloatArray
    speed: FloatArray
    station: FloatArray
    width: float


def owners(
    field: WaterField, graph: nx.MultiDiGraph
) -> tuple[IntArray, list[tuple[int, int, int]]]:
    """Return which channel each wet cell belongs to, as an index into the list of edges; -1 dry.

    A cell belongs to the channel whose middle line is nearest.
    """
    edges = list(graph.edges(keys=True))
    owner = np.full(field.wet.shape, -1, dtype=np.int32)
    if not edges:
        return owner, edges
    rows = [graph.edges[e]["rows"] for e in edges]
    cols = [graph.edges[e]["cols"] for e in edges]
    which = np.repeat(np.arange(len(edges)), [r.size for r in rows])
    tree = cKDTree(np.column_stack((np.concatenate(rows), np.concatenate(cols))))
    where = np.nonzero(field.wet)
    if len(edges) == 1:
        owner[where] = 0
    else:
        owner[where] = which[tree.query(np.column_stack(where))[1]]
    return owner, edges


def thalweg_cells(
    field: WaterField,
    inside: BoolArray,
    first: tuple[int, int],
    last: tuple[int, int],
    power: float,
) -> tuple[IntArray, IntArray]:
    """Return the cells of the way from `first` to `last` that keeps to the strongest current.

    Cost per metre is (largest discharge per width of the section / that of the cell)^`power`.
    """
    mesh = mesh_of(inside)
    if mesh.size == 0:
        return np.zeros(0, np.int32), np.zeros(0, np.int32)
    here = mesh.rows, mesh.cols
    there = field.thalweg[0].of_cells(*here), field.thalweg[1].of_cells(*here)
    with np.errstate(invalid="ignore", divide="ignore"):
        carried, top = (field.depth[at] * field.speed[at] for at in (here, there))
        toll = np.clip(top / carried, 1.0, 50.0) ** power
    toll = np.where(np.isfinite(toll), toll, 50.0**power)
    step = mesh.length * 0.5 * (toll[mesh.a] + toll[mesh.b])
    ends = []
    for row, col in (first, last):
        ends.append(
            np.array([np.argmin((mesh.rows - row) ** 2 + (mesh.cols - col) ** 2)], np.int32)
        )
    _, way, _ = cheapest_route(mesh, step, step, ends[0], ends[1])
    return mesh.rows[way], mesh.cols[way]


def find_thalwegs(
    field: WaterField,
    graph: nx.MultiDiGraph,
    settings: ChannelSettings,
    owned: tuple[IntArray, list[tuple[int, int, int]]] | None = None,
) -> list[Thalweg]:
    """Return the thalweg of the main way, and one for every side channel; dead arms have none.

    `owned` is what `owners` returned, if it is at hand.
    """
    owner, edges = owners(field, graph) if owned is None else owned
    kinds = [graph.edges[e]["kind"] for e in edges]
    found: list[Thalweg] = []
    main = [i for i, kind in enumerate(kinds) if kind == "main"]
    pieces = (
        nx.weakly_connected_components(graph.edge_subgraph([edges[i] for i in main]))
        if main
        else []
    )
    for piece in pieces:
        mine = [i for i in main if edges[i][0] in piece]
        head = min(mine, key=lambda i: graph.nodes[edges[i][0]]["station"])
        foot = max(mine, key=lambda i: graph.nodes[edges[i][1]]["station"])
        ends = edges[head], edges[foot], "main"
        found += _thalweg(field, graph, np.isin(owner, mine), *ends, settings.thalweg_power)
    for i, kind in enumerate(kinds):
        if kind == "side":
            code = graph.edges[edges[i]]["code"]
            apart = (owner == i) & ~_near_main(field, graph, edges[i])
            found += _thalweg(field, graph, apart, edges[i], edges[i], code, settings.thalweg_power)
    return found


def _near_main(field: WaterField, graph: nx.MultiDiGraph, edge: tuple[int, int, int]) -> BoolArray:
    """Return the cells at a side channel's ends that are really the wider channel it joins."""
    near = np.zeros(field.wet.shape, dtype=bool)
    grid = field.grid
    for node in edge[:2]:
        if graph.degree(node) < 2:
            continue
        wide = max(
            c["width_m"]
            for _, _, c in (*graph.in_edges(node, data=True), *graph.out_edges(node, data=True))
        )
        x, y = graph.nodes[node]["x"], graph.nodes[node]["y"]
        window = grid.window_over((x, y, x, y), int(np.ceil(0.6 * np.nan_to_num(wide) / grid.cell)))
        part = grid.part(window)
        near[window] |= np.hypot(part.x[None, :] - x, part.y[:, None] - y) < 0.6 * wide
    return near


def _thalweg(
    field: WaterField,
    graph: nx.MultiDiGraph,
    inside: BoolArray,
    head: tuple[int, int, int],
    foot: tuple[int, int, int],
    code: str,
    power: float,
) -> list[Thalweg]:
    """Return the thalweg from the top of `head` to the foot of `foot`, if there is one."""
    first = (int(graph.edges[head]["rows"][0]), int(graph.edges[head]["cols"][0]))
    last = (int(graph.edges[foot]["rows"][-1]), int(graph.edges[foot]["cols"][-1]))
    rows, cols = thalweg_cells(field, inside & field.wet, first, last, power)
    if rows.size < 5:
        return []
    points = field.grid.points(rows.astype(float), cols.astype(float))
    sigma = max(0.1 * field.width / field.grid.cell, 1.0)
    smooth = ndimage.gaussian_filter1d(points, sigma, axis=0, mode="nearest")
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(smooth, axis=0).T))]
    section = field.section.of_cells(rows, cols)
    return [
        Thalweg(
            channel=code,
            rows=rows,
            cols=cols,
            along=along,
            points=smooth,
            bed=field.level[rows, cols] - field.depth[rows, cols],
            depth=field.depth[rows, cols],
            speed=field.speed[rows, cols],
            station=field.station[rows, cols],
            width=float(np.nanmedian(section)),
        )
    ]
