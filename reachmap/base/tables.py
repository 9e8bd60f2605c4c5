"""The register of every vector layer: the same names in Python, GIS files and report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd


@dataclass(frozen=True, slots=True)
class Column:
    """One promised column of a layer."""

    name: str
    unit: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Layer:
    """One promised layer: what it is, its geometry and its columns."""

    name: str
    geometry: str
    meaning: str
    columns: tuple[Column, ...]


def _columns(*rows: tuple[str, str, str]) -> tuple[Column, ...]:
    """Return columns, the flow's two before the layer's own."""
    flow = (
        Column("flow", "m3/s", "Discharge."),
        Column("flow_label", "", "Short name of the flow, as in file names."),
    )
    return flow + tuple(Column(*row) for row in rows)


LAYERS: tuple[Layer, ...] = (
    Layer(
        "wetted",
        "Polygon",
        "Wet area; rings are islands and bars.",
        _columns(("area_m2", "m2", "Area.")),
    ),
    Layer(
        "edge_left",
        "LineString",
        "Edge of the water on river left.",
        _columns(("length_m", "m", "Length.")),
    ),
    Layer(
        "edge_right",
        "LineString",
        "Edge of the water on river right.",
        _columns(("length_m", "m", "Length.")),
    ),
    Layer(
        "water",
        "Polygon",
        "Candidate swing water.",
        _columns(
            ("code", "", "Short name: kind and number, downstream."),
            ("kind", "", "inside_bend, seam, tailout or soft_edge."),
            ("side", "", "left, right or island."),
            ("station_m", "m", "Upper end, downstream along the main line."),
            ("station_end_m", "m", "Lower end."),
            ("length_m", "m", "Length along the river."),
            ("width_m", "m", "Median width across the flow."),
            ("depth_m", "m", "Median depth."),
            ("speed_m_s", "m/s", "Median speed."),
            ("score", "1", "0 to 100: product of the factors."),
            ("factor_depth", "1", "How well depth suits, 0 to 1."),
            ("factor_speed", "1", "How well speed suits, 0 to 1."),
            ("factor_even", "1", "How even the speed is, 0 to 1."),
            ("factor_size", "1", "Whether it is large enough to swing, 0 to 1."),
            ("confidence", "", "low, fair or good."),
            ("run", "", "Name of the run it belongs to, or empty."),
        ),
    ),
    Layer(
        "seams",
        "LineString",
        "Where two currents of different speed meet.",
        _columns(
            ("code", "", "Short name."),
            ("strength", "1/s", "Change of speed across the flow, over distance."),
            ("length_m", "m", "Length."),
            ("slow_side", "", "Which side is slower, looking downstream: left or right."),
            ("from_junction", "", "Whether it starts where two channels rejoin."),
        ),
    ),
    Layer(
        "tailouts",
        "LineString",
        "Thread of the current from where a tailout starts down to its lip.",
        _columns(
            ("code", "", "Short name."),
            ("lip_station_m", "m", "Where the lip is, downstream along the main line."),
            ("length_m", "m", "Length from start to lip."),
            ("lip_depth_m", "m", "Depth at the lip."),
            ("lip_speed_m_s", "m/s", "Speed at the lip."),
            ("residual_m", "m", "Depth of the pool above below the lip's height."),
        ),
    ),
    Layer(
        "lanes",
        "LineString",
        "Least-effort way upstream for a fish.",
        _columns(
            ("length_m", "m", "Length."),
            ("effort", "1", "Cost over that of still water of the same length."),
        ),
    ),
    Layer(
        "wading",
        "Polygon",
        "How water grades for this person on foot.",
        _columns(
            ("grade", "", "easy, careful, no or unknown."),
            ("area_m2", "m2", "Area."),
            ("note", "", "What to know before stepping in."),
        ),
    ),
    Layer(
        "stations",
        "Point",
        "Places to stand and cast from.",
        _columns(
            ("code", "", "Short name: the water's code and a number, downstream."),
            ("side", "", "Bank one stands on: left, right or island."),
            ("depth_m", "m", "Depth where one stands; 0 on dry ground."),
            ("speed_m_s", "m/s", "Speed where one stands."),
            ("room_m", "m", "Clear room behind, along the loop; NaN unknown."),
            ("casts", "", "Casts that fit or fit tightly."),
            ("cast_m", "m", "Length of the cast that reaches the water."),
            (
                "angle_deg",
                "degrees",
                "Cast angle down from straight across: 0 across, 90 straight down.",
            ),
            ("head_max_m", "m", "Longest head that fits behind."),
            ("tip", "", "Sink tip from the kit."),
            ("swing_s", "s", "Seconds from landing to hang-down."),
            ("note", "", "What to know."),
        ),
    ),
    Layer(
        "runs",
        "Polygon",
        "A stretch one fishes through, over all flows.",
        (
            Column("run", "", "Name."),
            Column("named_by", "", "angler or reachmap."),
            Column("side", "", "left, right or island."),
            Column("station_m", "m", "Upper end."),
            Column("length_m", "m", "Length along the river."),
            Column("flows_in_shape", "", "Labels of the flows at which it fishes."),
            Column("best_flow", "m3/s", "Flow with the best score."),
            Column("minutes", "min", "Time to fish it once through at its best flow."),
            Column("note", "", "What to know."),
        ),
    ),
)
"""Every promised layer."""

BY_NAME: Mapping[str, Layer] = {layer.name: layer for layer in LAYERS}


def layer_frame(name: str, rows: Sequence[Mapping[str, Any]], crs: str) -> gpd.GeoDataFrame:
    """Return rows as the promised layer, columns in the register's order, also where empty.

    Parameters
    ----------
    name
        A layer of the register.
    rows
        Each with every promised column and `geometry` [m, `crs`].
    crs
        The project's metric CRS.

    Raises
    ------
    ValueError
        If a row lacks a promised column or has one that was not promised.
    """
    names = [column.name for column in BY_NAME[name].columns]
    for row in rows:
        if row.keys() != {*names, "geometry"}:
            differs = sorted(row.keys() ^ {*names, "geometry"})
            msg = f"layer {name}: columns that differ from the register: {differs}"
            raise ValueError(msg)
    return gpd.GeoDataFrame(list(rows), columns=[*names, "geometry"], geometry="geometry", crs=crs)
