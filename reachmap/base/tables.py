"""The register of every vector layer: the same names in Python, GIS files and report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd

from reachmap.base.columns import HAZARD_COLUMNS, HAZARDS_NEAR, Column, Layer


def _columns(*rows: tuple[str, str, str] | Column) -> tuple[Column, ...]:
    """Return columns, the flow's two before the layer's own."""
    flow = (
        Column("flow", "m3/s", "Discharge."),
        Column("flow_label", "", "Short name of the flow, as in file names."),
    )
    return flow + tuple(row if isinstance(row, Column) else Column(*row) for row in rows)


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
            Column("factor_reach", "1", "Whether a cast reaches it from a bank, 0 to 1.", True),
            Column("width_head_m", "m", "Median width of its upper third.", True),
            Column("width_tail_m", "m", "Median width of its lower third.", True),
            Column("bank_m", "m", "Median distance from the nearest bank.", True),
            Column("prime", "", "yes where the score holds over a fishable length, or no.", True),
            Column("chance", "1", "Chance that at least half of it is there; NaN not known.", True),
            Column("wade", "", "Fished from dry ground, easy water, no place, or unknown.", True),
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
            Column("fast_m_s", "m/s", "Speed of the quicker current.", True),
            Column("slow_m_s", "m/s", "Speed of the slower current.", True),
            Column("thickness_m", "m", "Their difference over the strength.", True),
            Column("lasts_m", "m", "How far bed friction lets it last.", True),
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
            Column("start_depth_m", "m", "Depth where it starts.", True),
            Column("start_speed_m_s", "m/s", "Speed where it starts.", True),
            Column("walking_side", "", "Which side carries more water of the wanted pace.", True),
            Column("channel", "", "Code of the channel it lies in.", True),
        ),
    ),
    Layer(
        "lanes",
        "LineString",
        "Least-effort way upstream for a fish.",
        _columns(
            ("length_m", "m", "Length."),
            ("effort", "1", "Cost over that of still water of the same length."),
            Column("depth_m", "m", "Median depth along it.", True),
            Column("speed_m_s", "m/s", "Median speed along it.", True),
            Column("edge_m", "m", "Median distance from the nearest edge of the water.", True),
        ),
    ),
    Layer(
        "bands",
        "Polygon",
        "The water around the lane that costs a fish little more.",
        _columns(("area_m2", "m2", "Area.")),
    ),
    Layer(
        "channels",
        "LineString",
        "Wet channels: the edges of the channel graph.",
        _columns(
            ("code", "", "Short name."),
            ("kind", "", "main, side or dead arm."),
            ("station_m", "m", "Upper end, downstream along the main line."),
            ("station_end_m", "m", "Lower end."),
            ("length_m", "m", "Length."),
            ("width_m", "m", "Median width."),
            ("depth_m", "m", "Median depth along its middle; NaN unknown."),
            ("share", "1", "Share of the flow it carries, 0 to 1."),
            ("from_node", "", "What it starts from: head, split, junction, crossing, arm or end."),
            ("to_node", "", "What it runs into: foot, split, junction, crossing, arm or end."),
            ("wakes_at", "", "Label of the lowest flow at which it is there."),
        ),
    ),
    Layer(
        "wading",
        "Polygon",
        "How water grades for this person on foot.",
        _columns(
            ("grade", "", "easy, careful, no or unknown."),
            ("area_m2", "m2", "Area."),
            Column(
                "out_m", "m", "How far from ground one can stand in it; NaN where nobody can.", True
            ),
            Column(
                "depth_m", "m", "Deepest to reckon with, margins in force in it; NaN unknown.", True
            ),
            Column("below", "", "Nearest hazard down the current, or empty.", True),
            Column("below_m", "m", "How far down the current it lies; NaN where none.", True),
            Column("cut_off", "", "Label of the flow that cuts off the way back, or empty.", True),
            ("note", "", "What to know before stepping in."),
        ),
    ),
    Layer(
        "bars",
        "Polygon",
        "Dry ground with water all round: islands, bars and rocks, and the way back from them.",
        _columns(
            ("code", "", "Short name of the flow's bar, numbered downstream."),
            ("area_m2", "m2", "Dry area."),
            ("station_m", "m", "Upper end, downstream along the main line."),
            ("on_foot", "", "yes where water one can wade joins it to a bank, or no."),
            ("open_until", "", "Label of the last flow at which one gets back on foot, or empty."),
            ("cut_off", "", "Label of the flow that cuts off the way back, or empty."),
            ("note", "", "What to know."),
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
            Column("water", "", "Code of the water it fishes.", True),
            Column("station_m", "m", "Downstream along the main line.", True),
            Column("cast", "", "Cast to make here, or empty.", True),
            Column("rod", "", "Rod from the kit for it.", True),
            Column("head", "", "Head from the kit for it.", True),
            Column("tight", "", "Casts that fit only within the doubt of the numbers.", True),
            Column("loop_side", "", "Side of the loop: upstream, downstream or either.", True),
            Column("hand", "", "natural or off: which hand is up, for the angler's own.", True),
            Column("target_deg", "degrees", "Direction of the cast, from east to north.", True),
            Column("down_deg", "degrees", "Direction of the current, from east to north.", True),
            Column(
                "fly_speed_m_s",
                "m/s",
                "Speed of the fly across the current in the strike zone.",
                True,
            ),
            Column("fly_depth_m", "m", "Depth of the fly in the strike zone.", True),
            Column(
                "swing_end",
                "",
                "hangs, stalls, leaves, touches, aground, timeout or unknown.",
                True,
            ),
            Column("zone_s", "s", "Seconds the fly swims its water at the wanted pace.", True),
            Column("wait_s", "s", "Seconds from floating line straight to fly straight.", True),
            Column("tip_wants", "", "heavier or lighter than any tip owned, or empty.", True),
            Column("access", "", "How one gets there: foot, boat or unknown.", True),
            Column("cut_off", "", "Label of the flow that cuts off the way back, or empty.", True),
            *HAZARD_COLUMNS,
            ("note", "", "What to know."),
        ),
    ),
    HAZARDS_NEAR,
    Layer(
        "swings",
        "LineString",
        "Paths of the fly from landing to the end of the swing, one a station.",
        _columns(
            ("code", "", "Code of the station."),
            ("water", "", "Code of the water."),
            ("swing_s", "s", "Seconds from landing to the end; NaN unknown."),
            ("slows_s", "s", "Seconds until the fly slows into the wanted pace; NaN never."),
            ("swing_end", "", "hangs, stalls, leaves, touches, aground, timeout or unknown."),
            ("length_m", "m", "Length of the path."),
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
            *HAZARD_COLUMNS,
            Column("left_out", "1", "Places left out for a hazard at its best flow.", True),
            Column("note", "", "What to know."),
        ),
    ),
    Layer(
        "asks",
        "Point",
        "Places where one sounding, or one edge seen, would sharpen the map most.",
        (
            Column("code", "", "Short name, the most helpful first."),
            Column("rank", "1", "1 helps most."),
            Column("kind", "", "sounding or edge: what to note there."),
            Column("station_m", "m", "Downstream along the main line."),
            Column("offset_m", "m", "From the main line, positive to river left."),
            Column("spread_m", "m", "Doubt of the depth there; NaN for an edge."),
            Column("gain", "1", "Share of the doubt in the water that matters it takes away."),
            Column("note", "", "What to do there."),
        ),
    ),
)
"""Every promised layer."""

LOG = Layer(
    "log",
    "Point",
    "What was kept of trips, newest first; a layer of its own, so that nobody hands it on unasked.",
    (
        Column("code", "", "L1, L2 and so on."),
        Column("kind", "", "trip, run (trips of no place, a row a run), edge, sounding, speed."),
        Column("date", "", "Day, of the newest trip where there are several."),
        Column("run", "", "Name of the run, or empty."),
        Column("trips", "1", "How many trips the row stands for; 0 for what was seen or measured."),
        Column("flow", "m3/s", "Discharge; NaN where nobody knows."),
        Column("near_label", "", "Label of the mapped flow it counts for, or empty."),
        Column("touches", "1", "Fish that touched the fly."),
        Column("landed", "1", "Of them, landed."),
        Column("minutes", "min", "Time fished; NaN where it was not written down."),
        Column("depth_m", "m", "Of a sounding."),
        Column("speed_m_s", "m/s", "Of a speed."),
        Column("note", "", "What was written down, in one line."),
    ),
)
"""The angler's own log; not among `LAYERS`, which every writer writes."""

BY_NAME: Mapping[str, Layer] = {layer.name: layer for layer in (*LAYERS, LOG)}


def layer_frame(name: str, rows: Sequence[Mapping[str, Any]], crs: str) -> gpd.GeoDataFrame:
    """Return rows as the promised layer, columns in the register's order, also where empty.

    Parameters
    ----------
    name
        A layer of the register.
    rows
        Each with every promised column and `geometry` [m, `crs`]; spare columns that are left out
        become NaN, or empty where they hold text.
    crs
        The project's metric CRS.

    Raises
    ------
    ValueError
        If a row lacks a promised column or has one that was not promised.
    """
    columns = BY_NAME[name].columns
    names = [column.name for column in columns]
    spare = {c.name: float("nan") if c.unit else "" for c in columns if c.spare}
    full = [{**spare, **row} for row in rows]
    for row in full:
        if row.keys() != {*names, "geometry"}:
            differs = sorted(row.keys() ^ {*names, "geometry"})
            msg = f"layer {name}: columns that differ from the register: {differs}"
            raise ValueError(msg)
    return gpd.GeoDataFrame(full, columns=[*names, "geometry"], geometry="geometry", crs=crs)
