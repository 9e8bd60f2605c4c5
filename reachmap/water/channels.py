"""The graph of wet channels at one flow: where the water splits, meets again, or ends."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import networkx as nx
import numpy as np
from scipy.ndimage import gaussian_filter1d
from shapely import LineString

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.schema import layer_frame
from reachmap.water.field import WaterField, square_sections
from reachmap.water.settings import ChannelSettings
from reachmap.water.skeleton import Strand, filled, pruned, skeleton_graph


def channel_graph(field: WaterField, settings: ChannelSettings) -> nx.MultiDiGraph:
    """Return the wet channels as a graph whose edges point downstream.

    Returns
    -------
    networkx.MultiDiGraph
        Nodes: `x`, `y` [m], `station` [m], `kind` = head, foot, split, junction, crossing, arm
        (where only a dead arm joins) or end.
        Edges: `code`, `kind` = main, side or dead arm, `line` (LineString), `rows`, `cols`,
        `length_m`, `width_m`, `depth_m`, `share` of the flow (0 to 1).

    Notes
    -----
    The skeleton of the wet area, bays pruned, each line moved to the middle between its banks and
    pointed the way the water goes. Independent loops (edges - nodes + pieces) number the islands.
    """
    cell = field.grid.cell
    graph: nx.MultiDiGraph = nx.MultiDiGraph()
    if not field.wet.any():
        return graph
    water = filled(field.wet, settings.island_low_m2 / cell**2)
    bare = pruned(skeleton_graph(water), settings.spur_half_widths)
    for node, spot in bare.nodes(data=True):
        point = field.grid.points(spot["row"], spot["col"])[0]
        station = float(field.station[round(spot["row"]), round(spot["col"])])
        graph.add_node(node, x=float(point[0]), y=float(point[1]), station=station)
    strands = [
        (a, b, _pointed(field, strand, bare, (a, b)))
        for a, b, strand in bare.edges(data="strand")
        if strand.length >= 2
    ]
    for (a, b, (strand, flipped)), look in zip(
        strands, _looks(field, [strand for _, _, (strand, _) in strands]), strict=True
    ):
        ends = (b, a) if flipped else (a, b)
        loose = bare.degree(ends[0]) == 1, bare.degree(ends[1]) == 1
        graph.add_edge(*ends, **_channel(field, strand, look, loose))
    graph.remove_nodes_from([n for n in list(graph) if graph.degree(n) == 0])
    _name_ends(graph, field)
    _name_channels(graph, settings.dead_share)
    _name_meetings(graph)
    return graph


def _pointed(
    field: WaterField, strand: Strand, bare: nx.MultiGraph, ends: tuple[int, int]
) -> tuple[Strand, bool]:
    """Return a strand pointing downstream, carried on to the water's end where it is loose.

    The flag says whether it runs from the second of `ends` to the first.
    """
    first = bare.nodes[ends[0]]
    near = np.hypot(strand.rows[[0, -1]] - first["row"], strand.cols[[0, -1]] - first["col"])
    flipped = bool(near[0] > near[1])
    rows, cols = strand.rows, strand.cols
    if _drift(field, rows, cols) < 0:
        flipped, rows, cols = not flipped, rows[::-1], cols[::-1]
    head, foot = (ends[1], ends[0]) if flipped else ends
    if bare.degree(head) == 1:
        rows, cols = (axis[::-1] for axis in _carried_on(field, rows[::-1], cols[::-1]))
    if bare.degree(foot) == 1:
        rows, cols = _carried_on(field, rows, cols)
    return Strand(rows, cols), flipped


def _carried_on(field: WaterField, rows: IntArray, cols: IntArray) -> tuple[IntArray, IntArray]:
    """Return a strand carried straight on from its last cell to the end of the water.

    A skeleton stops half a width short of the water's end, and bends into a corner there: its last
    half width is left out and the direction before that is held.
    """
    wide = np.nan_to_num(field.section.of_cells(rows[-1:], cols[-1:])[0])
    half = int(0.5 * wide / field.grid.cell)
    keep = max(rows.size - half, rows.size // 2, 2)
    back = max(keep - 1 - max(half, 3), 0)
    step = np.array([rows[keep - 1] - rows[back], cols[keep - 1] - cols[back]], dtype=np.float64)
    size = float(np.hypot(*step))
    if size == 0:
        return rows, cols
    path = [(int(rows[i]), int(cols[i])) for i in range(keep)]
    for k in range(1, 4 * half + 4):
        row = round(rows[keep - 1] + step[0] / size * k)
        col = round(cols[keep - 1] + step[1] / size * k)
        inside = 0 <= row < field.wet.shape[0] and 0 <= col < field.wet.shape[1]
        if not inside or not field.wet[row, col]:
            break
        if (row, col) != path[-1]:
            path.append((row, col))
    if len(path) < rows.size:
        return rows, cols
    found = np.array(path, dtype=np.int32)
    return found[:, 0], found[:, 1]


@dataclass(frozen=True, slots=True)
class _Look:
    """Sections across a strand at its cells: distances to the banks [m] and discharge [m3/s]."""

    across_row: FloatArray
    across_col: FloatArray
    left: FloatArray
    right: FloatArray
    through: FloatArray


def _looks(field: WaterField, strands: list[Strand]) -> list[_Look]:
    """Return the sections square to each strand, whichever way the water goes."""
    if not strands:
        return []
    across = field.across_row.copy(), field.across_col.copy()
    for strand in strands:
        sigma = min(4.0, strand.rows.size / 4)
        row, col = (
            gaussian_filter1d(axis.astype(np.float64), sigma, mode="nearest")
            for axis in (strand.rows, strand.cols)
        )
        d_row, d_col = np.gradient(row), np.gradient(col)
        size = np.maximum(np.hypot(d_row, d_col), 1e-9)
        # A quarter turn to river left: (d_row, d_col)
        # becomes (-d_col, d_row), since rows run south.
        across[0][strand.rows, strand.cols] = -d_col / size
        across[1][strand.rows, strand.cols] = d_row / size
    rows = np.concatenate([strand.rows for strand in strands])
    cols = np.concatenate([strand.cols for strand in strands])
    left, right, through = square_sections(field, across, rows, cols)
    looks = []
    stops = np.cumsum([strand.rows.size for strand in strands])
    for strand, stop in zip(strands, stops, strict=True):
        own = slice(int(stop) - strand.rows.size, int(stop))
        here = (strand.rows, strand.cols)
        looks.append(_Look(across[0][here], across[1][here], left[own], right[own], through[own]))
    return looks


def _channel(
    field: WaterField, strand: Strand, look: _Look, loose: tuple[bool, bool]
) -> dict[str, Any]:
    """Return a channel's attributes but for its kind and code."""
    line = _middle_line(field, strand, look)
    own = _own_part(*loose, strand.rows.size)
    carried = _median(look.through[own])
    return {
        "line": line,
        "rows": strand.rows,
        "cols": strand.cols,
        "length_m": float(line.length),
        "width_m": _median((look.left + look.right)[own]),
        "depth_m": _median(field.depth[strand.rows, strand.cols]),
        "share": float(np.clip(np.nan_to_num(carried) / max(field.inflow, 1e-9), 0, 1)),
    }


def _own_part(head_loose: bool, foot_loose: bool, size: int) -> slice:
    """Return the part of a strand away from the channels it joins: its middle, or its free end."""
    if head_loose == foot_loose:
        return slice(size // 4, size - size // 4)
    return slice(0, size // 2) if head_loose else slice(size // 2, size)


def _median(values: FloatArray) -> float:
    """Return the median of what is known; NaN where nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else float("nan")


def _drift(field: WaterField, rows: Any, cols: Any) -> float:
    """Return whether the water runs along the cells in their order (> 0) or against it (< 0).

    By the fall of its level where that is over a centimetre, else by its speed, else by station.
    """
    level = field.level[rows, cols]
    level = level[np.isfinite(level)]
    third = max(level.size // 3, 1)
    if level.size and abs(fall := float(level[:third].mean() - level[-third:].mean())) > 0.01:
        return fall
    step_row, step_col = np.gradient(rows.astype(float)), np.gradient(cols.astype(float))
    # A step down the rows is a step against north.
    run = field.east[rows, cols] * step_col - field.north[rows, cols] * step_row
    carried = run * field.depth[rows, cols]
    known = carried[np.isfinite(carried)]
    if known.size and abs(known.mean()) > 0.01:
        return float(known.mean())
    station = field.station[rows, cols]
    return float(station[-1] - station[0])


def _middle_line(field: WaterField, strand: Strand, look: _Look) -> LineString:
    """Return a channel's line through the middle between its banks, smoothed, its ends held.

    Where it opens into another channel the look across runs out into that one: no cell is moved by
    more than a third of the channel's usual width.
    """
    rows, cols = strand.rows, strand.cols
    wide = (look.left + look.right) / field.grid.cell
    usual = np.minimum(wide, np.quantile(wide, 0.25))
    shift = np.clip((look.left - look.right) / (2 * field.grid.cell), -usual / 3, usual / 3)
    opens = np.clip(2 - wide / np.maximum(np.median(usual), 1e-9) / 1.5, 0.0, 1.0)
    shift = shift * opens
    sigma = min(max(float(np.median(usual)) / 3, 1.0), len(rows) / 4)
    row = gaussian_filter1d(rows + look.across_row * shift, sigma, mode="nearest")
    col = gaussian_filter1d(cols + look.across_col * shift, sigma, mode="nearest")
    points = field.grid.points(
        np.r_[rows[0], row[1:-1], rows[-1]], np.r_[cols[0], col[1:-1], cols[-1]]
    )
    return LineString(points).simplify(0.25 * field.grid.cell)


def _name_ends(graph: nx.MultiDiGraph, field: WaterField) -> None:
    """Give each node that only one channel reaches its kind: head, foot or end."""
    known = field.station[field.placed]
    top, bottom = (known.min(), known.max()) if known.size else (0.0, 0.0)
    for node, spot in graph.nodes(data=True):
        if graph.degree(node) == 1:
            outs = graph.out_degree(node)
            near_top = spot["station"] - top < field.width and outs == 1
            near_foot = bottom - spot["station"] < field.width and outs == 0
            spot["kind"] = "head" if near_top else "foot" if near_foot else "end"


def _name_channels(graph: nx.MultiDiGraph, dead_share: float) -> None:
    """Give each channel its kind and its code, numbered downstream."""
    main = _main_path(graph)
    edges = sorted(
        graph.edges(keys=True), key=lambda e: (graph.nodes[e[0]]["station"], e[0], e[1], e[2])
    )
    for number, edge in enumerate(edges, start=1):
        channel = graph.edges[edge]
        ended = any(graph.nodes[n].get("kind") == "end" for n in edge[:2])
        dead = ended and channel["share"] < dead_share
        channel["kind"] = "main" if edge in main else "dead arm" if dead else "side"
        channel["code"] = f"C{number}"


def _name_meetings(graph: nx.MultiDiGraph) -> None:
    """Give each node where channels meet its kind, by those that carry water."""
    for node, spot in graph.nodes(data=True):
        if graph.degree(node) == 1:
            continue
        live = [
            sum(c["kind"] != "dead arm" for *_, c in edges(node, data=True))
            for edges in (graph.in_edges, graph.out_edges)
        ]
        if live[0] > 1 and live[1] > 1:
            spot["kind"] = "crossing"
        else:
            spot["kind"] = "junction" if live[0] > 1 else "split" if live[1] > 1 else "arm"


def _main_path(graph: nx.MultiDiGraph) -> set[tuple[int, int, int]]:
    """Return the edges of the way downstream that carries most of the water, piece by piece."""
    chosen: set[tuple[int, int, int]] = set()
    for piece in nx.weakly_connected_components(graph):
        part = graph.subgraph(piece)
        first = min(piece, key=lambda n: graph.nodes[n]["station"])
        last = max(piece, key=lambda n: graph.nodes[n]["station"])

        def toll(_a: int, _b: int, keys: dict[int, dict[str, Any]]) -> float:
            return float(min(c["length_m"] / (c["share"] + 0.01) for c in keys.values()))

        if not nx.has_path(part, first, last):
            continue
        path = nx.dijkstra_path(part, first, last, weight=toll)
        for a, b in itertools.pairwise(path):
            chosen.add((a, b, max(part[a][b], key=lambda k: part[a][b][k]["share"])))
    return chosen


def channels_layer(graph: nx.MultiDiGraph, field: WaterField) -> gpd.GeoDataFrame:
    """Return the graph's channels as a layer."""
    rows = []
    for a, b, channel in graph.edges(data=True):
        head, foot = graph.nodes[a], graph.nodes[b]
        rows.append(
            {
                "flow": field.flow,
                "flow_label": field.label,
                "code": channel["code"],
                "kind": channel["kind"],
                "station_m": head["station"],
                "station_end_m": foot["station"],
                "length_m": channel["length_m"],
                "width_m": channel["width_m"],
                "depth_m": channel["depth_m"],
                "share": channel["share"],
                "from_node": head["kind"],
                "to_node": foot["kind"],
                "geometry": channel["line"],
            }
        )
    rows.sort(key=lambda row: (row["station_m"], row["code"]))
    return layer_frame("channels", rows, field.grid.crs)
