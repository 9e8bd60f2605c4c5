"""Layers of the water at one flow."""

from __future__ import annotations

from reachmap.base.columns import Layer, flag, number, text, word
from reachmap.base.words import (
    ChannelEnd,
    ChannelKind,
    Confidence,
    Footing,
    Lack,
    Side,
    WaterKind,
)

FLOW = (
    number("flow", "m3/s", "Discharge.", 0),
    text("flow_label", "Short name of the flow, as in file names."),
)
"""The first columns of what differs from flow to flow."""

_END = "Lower end."

WATER_LAYERS: tuple[Layer, ...] = (
    Layer(
        "wetted",
        "Polygon",
        "Wet area; rings are islands and bars.",
        (*FLOW, number("area_m2", "m2", "Area.", 0)),
    ),
    Layer(
        "edge_left",
        "LineString",
        "Edge of the water on river left.",
        (*FLOW, number("length_m", "m", "Length.", 0)),
    ),
    Layer(
        "edge_right",
        "LineString",
        "Edge of the water on river right.",
        (*FLOW, number("length_m", "m", "Length.", 0)),
    ),
    Layer(
        "water",
        "Polygon",
        "Candidate swing water.",
        (
            *FLOW,
            text("code", "Short name: kind and number, downstream; the same at every flow."),
            word("kind", WaterKind, "Kind of water."),
            word("side", Side, "Bank it lies against."),
            number("station_m", "m", "Upper end, downstream along the main line."),
            number("station_end_m", "m", _END),
            number("length_m", "m", "Length along the river.", 0),
            number("width_m", "m", "Median width across the flow.", 0),
            number("depth_m", "m", "Median depth.", 0, 60),
            number("speed_m_s", "m/s", "Median speed.", 0, 20),
            number("score", "1", "Product of the factors.", 0, 100),
            number("factor_depth", "1", "How well depth suits.", 0, 1),
            number("factor_speed", "1", "How well speed suits.", 0, 1),
            number("factor_even", "1", "How even the speed is.", 0, 1),
            number("factor_size", "1", "Whether it is large enough to swing.", 0, 1),
            word("confidence", Confidence, "How sure it is."),
            text("run", "Name of the run it belongs to, or empty."),
            number("factor_reach", "1", "Share within a cast of a bank.", 0, 1, spare=True),
            number("width_head_m", "m", "Median width of its upper third.", 0, spare=True),
            number("width_tail_m", "m", "Median width of its lower third.", 0, spare=True),
            number("bank_m", "m", "Median distance from the nearest bank.", 0, spare=True),
            flag("prime", "Whether the score holds over a fishable length.", spare=True),
            number(
                "passing",
                "1",
                "Share of the fish on their way up that pass on its side of the river; NaN where "
                "none does, and by an island.",
                0,
                1,
                spare=True,
            ),
            number(
                "odds", "1", "Mean odds that its water suits the season's fish.", 0, 1, spare=True
            ),
            flag(
                "tailout_untold",
                "Whether no tailout is looked for here: bed and level profile are unknown.",
                spare=True,
            ),
            number("chance", "1", "Chance that at least half of it is there.", 0, 1, spare=True),
            word("wade", Footing, "From where it is fished; missing: not looked at.", spare=True),
        ),
    ),
    Layer(
        "left_over",
        "Polygon",
        "Water within the season's limits that belongs to no piece, with the reason.",
        (
            *FLOW,
            word("kind", WaterKind, "Kind of water it would be."),
            word("why", Lack, "What keeps it from being a piece."),
            number("area_m2", "m2", "Area.", 0),
        ),
    ),
    Layer(
        "seams",
        "LineString",
        "Where two currents of different speed meet.",
        (
            *FLOW,
            text("code", "Short name."),
            number("strength", "1/s", "Change of speed across the flow, over distance.", 0),
            number("length_m", "m", "Length.", 0),
            word("slow_side", Side, "Which side is slower, looking downstream."),
            flag("from_junction", "Whether it starts where two channels, or a tributary, meet."),
            number("fast_m_s", "m/s", "Speed of the quicker current.", 0, 20, spare=True),
            number("slow_m_s", "m/s", "Speed of the slower current.", -20, 20, spare=True),
            number("thickness_m", "m", "Their difference over the strength.", 0, spare=True),
            number("lasts_m", "m", "How far bed friction lets it last.", 0, spare=True),
            flag("eddy", "Whether the slower water runs back upriver.", spare=True),
            number("chance", "1", "Chance that the currents differ so much.", 0, 1, spare=True),
        ),
    ),
    Layer(
        "tailouts",
        "LineString",
        "Thread of the current from where a tailout starts down to its lip.",
        (
            *FLOW,
            text("code", "Short name."),
            number("lip_station_m", "m", "Where the lip is, downstream along the main line."),
            number("length_m", "m", "Length from start to lip.", 0),
            number("lip_depth_m", "m", "Depth at the lip.", 0, 60),
            number("lip_speed_m_s", "m/s", "Speed at the lip.", 0, 20),
            number("residual_m", "m", "Depth of the pool above below the lip's height.", 0),
            number("start_depth_m", "m", "Depth where it starts.", 0, 60, spare=True),
            number("start_speed_m_s", "m/s", "Speed where it starts.", 0, 20, spare=True),
            word("walking_side", Side, "Which side has more water of the wanted pace.", spare=True),
            text("channel", "Code of the channel it lies in.", spare=True),
        ),
    ),
    Layer(
        "lanes",
        "LineString",
        "Line along which most fish travel upstream.",
        (
            *FLOW,
            number("length_m", "m", "Length.", 0),
            number("effort", "1", "Cost over that of still water of the same length.", 0),
            number("depth_m", "m", "Median depth along it.", 0, 60, spare=True),
            number("speed_m_s", "m/s", "Median speed along it.", 0, 20, spare=True),
            number("edge_m", "m", "Median distance from the edge of the water.", 0, spare=True),
        ),
    ),
    Layer(
        "bands",
        "Polygon",
        "Where fish travel: the densest ways that a share of them take.",
        (
            *FLOW,
            number("share", "1", "Share of the fish that pass within it.", 0, 1),
            number("area_m2", "m2", "Area.", 0),
        ),
    ),
    Layer(
        "channels",
        "LineString",
        "Wet channels: the edges of the channel graph.",
        (
            *FLOW,
            text("code", "Short name."),
            word("kind", ChannelKind, "Kind of channel."),
            number("station_m", "m", "Upper end, downstream along the main line."),
            number("station_end_m", "m", _END),
            number("length_m", "m", "Length.", 0),
            number("width_m", "m", "Median width.", 0),
            number("depth_m", "m", "Median depth along its middle.", 0, 60),
            number("share", "1", "Share of the flow it carries.", 0, 1),
            word("from_node", ChannelEnd, "What it starts from."),
            word("to_node", ChannelEnd, "What it runs into."),
            number("wakes_at_m3_s", "m3/s", "Lowest mapped flow with it there.", 0, spare=True),
        ),
    ),
)
"""What is read from the water."""
