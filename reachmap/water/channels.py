"""The graph of wet channels at one flow: where the water splits, meets again, or ends."""

from __future__ import annotations

import itertools
from typing import Any

import geopandas as gpd
import networkx as nx
import numpy as np
from scipy.ndimage import gaussian_filter1d
from shapely import LineString

from reachmap.base.shapes import F8
from reachmap.base.tables import layer_frame
from reachmap.water.field import WaterField
from reachmap.water.settings import ChannelSettings
from reachmap.water.skeleton import Strand, filled, pruned, skeleton_graph

DEAD_SHARE = 0.002
"""An arm that ends and carries less than this share of the flow is dead; our choice, 0.001-0.01."""


def channel_graph(field: WaterField, settings: ChannelSettings) -> nx.MultiDiGraph:
    """Return the wet channels as a graph whose edges point downstream.

    Returns
    -------
    networkx.MultiDiGraph
        Nodes: `x`, `y` [m], `station` [m], `kind` = head, foot, split, junction, crossing or end.
        Edges: `code`, `kind` = main, side or dead arm, `line` (LineString), `rows`, `cols`,
        `length_m`, `width_m`, `depth_m`, `share` of the flow (0 to 1).

    Notes
    -----
    The skeleton of the wet area, bays pruned, each line moved to the middle between its banks and
    pointed the way the water goes. Independent loops (edges - nodes + pieces) number the islands.
    """
    cell = field.frame.cell
    graph: nx.MultiDiGraph = nx.MultiDiGraph()
    if not field.wet.any():
        return graph
    water = filled(field.wet, settings.island_low_m2 / cell**2)
    half = np.where(field.wet, field.section / (2 * cell), np.nan)
    bare = pruned(skeleton_graph(water), half, settings.spur_half_widths, set())
    for node, spot in bare.nodes(data=True):
        point = field.frame.points(spot["row"], spot["col"])[0]
        station = float(field.station[round(spot["row"]), round(spot["col"])])
        graph.add_node(node, x=float(point[0]), y=float(point[1]), station=station)
    for a, b, strand in bare.edges(data="strand"):
        if strand.length * cell >= 2 * cell:
            _add_channel(graph, field, strand, (a, b), bare)
    graph.remove_nodes_from([n for n in list(graph) if graph.degree(n) == 0])
    _name_nodes(graph, field)
    _name_channels(graph)
    return graph


def _add_channel(
    graph: nx.MultiDiGraph,
    field: WaterField,
    strand: Strand,
    ends: tuple[int, int],
    bare: nx.MultiGraph,
) -> None:
    """Add one line of the skeleton as a channel pointing downstream."""
    spot = bare.nodes[ends[0]]
    flips = np.hypot(strand.rows[0] - spot["row"], strand.cols[0] - spot["col"]) > np.hypot(
        strand.rows[-1] - spot["row"], strand.cols[-1] - spot["col"]
    )
    a, b = (ends[1], ends[0]) if flips else ends
    rows, cols = strand.rows, strand.cols
    if _drift(field, rows, cols) < 0:
        a, b, rows, cols = b, a, rows[::-1], cols[::-1]
    line = _middle_line(field, rows, cols)
    own = _own_part(bare.degree(a) == 1, bare.degree(b) == 1, rows.size)
    carried = _median(field.through[rows, cols][own])
    graph.add_edge(
        a,
        b,
        line=line,
        rows=rows,
        cols=cols,
        length_m=float(line.length),
        width_m=_median(field.section[rows, cols][own]),
        depth_m=_median(field.depth[rows, cols]),
        share=float(np.clip(np.nan_to_num(carried) / max(field.inflow, 1e-9), 0, 1)),
    )


def _own_part(head_loose: bool, foot_loose: bool, size: int) -> slice:
    """Return the part of a strand away from the channels it joins: its middle, or its free end."""
    if head_loose == foot_loose:
        return slice(size // 4, size - size // 4)
    return slice(0, size // 2) if head_loose else slice(size // 2, size)


def _median(values: F8) -> float:
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
    sign = field.frame.row_sign
    step_row, step_col = np.gradient(rows.astype(float)), np.gradient(cols.astype(float))
    run = field.east[rows, cols] * step_col + sign * field.north[rows, cols] * step_row
    carried = run * field.depth[rows, cols]
    known = carried[np.isfinite(carried)]
    if known.size and abs(known.mean()) > 0.01:
        return float(known.mean())
    station = field.station[rows, cols]
    return float(station[-1] - station[0])


def _middle_line(field: WaterField, rows: Any, cols: Any) -> LineString:
    """Return a channel's line through the middle between its banks, smoothed, its ends held."""
    shift = (field.gap_left[rows, cols] - field.gap_right[rows, cols]) / (2 * field.frame.cell)
    wide = field.section[rows, cols] / field.frame.cell
    shift = np.clip(np.nan_to_num(shift), -0.3 * np.nan_to_num(wide), 0.3 * np.nan_to_num(wide))
    row = rows + field.across_row[rows, cols] * shift
    col = cols + field.across_col[rows, cols] * shift
    sigma = min(max(_median(wide) / 4, 1.0) if np.isfinite(wide).any() else 1.0, len(rows) / 4)
    row = gaussian_filter1d(row, sigma, mode="nearest")
    col = gaussian_filter1d(col, sigma, mode="nearest")
    points = field.frame.points(
        np.r_[rows[0], row[1:-1], rows[-1]], np.r_[cols[0], col[1:-1], cols[-1]]
    )
    return LineString(points).simplify(0.25 * field.frame.cell)


def _name_nodes(graph: nx.MultiDiGraph, field: WaterField) -> None:
    """Give each node its kind."""
    known = field.station[field.wet & np.isfinite(field.station)]
    top, bottom = (known.min(), known.max()) if known.size else (0.0, 0.0)
    for node, spot in graph.nodes(data=True):
        ins, outs = graph.in_degree(node), graph.out_degree(node)
        if ins + outs == 1:
            near_top = spot["station"] - top < field.width and outs == 1
            near_foot = bottom - spot["station"] < field.width and ins == 1
            spot["kind"] = "head" if near_top else "foot" if near_foot else "end"
        elif ins > 1 and outs > 1:
            spot["kind"] = "crossing"
        else:
            spot["kind"] = "split" if outs > ins else "junction"


def _name_channels(graph: nx.MultiDiGraph) -> None:
    """Give each channel its kind and its code, numbered downstream."""
    main = _main_path(graph)
    edges = sorted(
        graph.edges(keys=True), key=lambda e: (graph.nodes[e[0]]["station"], e[0], e[1], e[2])
    )
    for number, edge in enumerate(edges, start=1):
        channel = graph.edges[edge]
        ended = any(graph.nodes[n]["kind"] == "end" for n in edge[:2])
        dead = ended and channel["share"] < DEAD_SHARE
        channel["kind"] = "main" if edge in main else "dead arm" if dead else "side"
        channel["code"] = f"C{number}"


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
                "wakes_at": "",
                "geometry": channel["line"],
            }
        )
    rows.sort(key=lambda row: (row["station_m"], row["code"]))
    return layer_frame("channels", rows, field.frame.crs)
