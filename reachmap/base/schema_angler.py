"""Layers of one person at one flow: wading, places to stand, hazards, swings."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.columns import Layer, count, flag, number, text, word
from reachmap.base.schema_plan import LADDER, PLAN, SWUM
from reachmap.base.schema_water import FLOW
from reachmap.base.words import (
    Cast,
    CastFit,
    HazardKind,
    HazardWay,
    LoopSide,
    Side,
    Stretch,
    SwingEnd,
    TipWant,
    Toward,
    WadeGrade,
    WayIn,
)
from reachmap.base.words_runs import OnlyFrom

NOTE = (text("note", "What to know, in the folder's units."),)

HAZARD = (
    word("hazard_kind", HazardKind, "Drawn hazard that matters most; missing: none.", spare=True),
    text("hazard_note", "What was written on it, or empty.", spare=True),
    number("hazard_distance_m", "m", "How far off, along hazard_way; NaN none.", 0, spare=True),
    word("hazard_way", HazardWay, "How one comes to it.", spare=True),
    word("hazard_toward", Toward, "On which side it lies.", spare=True),
    number(
        "looked_m",
        "m",
        "Within it every drawn hazard was looked for along the current, on foot and straight; NaN "
        "where one of them could not be followed.",
        0,
        spare=True,
    ),
    number("hand_m", "m", "A little more water: how much is reckoned with.", 0, spare=True),
    flag(
        "hand_shuts",
        "Whether that much more water shuts the place or the way in or back; unknown counts as so.",
        spare=True,
    ),
    number(
        "hand_flow_m3_s", "m3/s", "Discharge at which it is that high; NaN unknown.", 0, spare=True
    ),
)
"""What a place to stand or a run carries of drawn hazards and of a little more water."""

WAY_BACK = (
    number(
        "open_until_m3_s",
        "m3/s",
        "Last mapped flow at which one gets back on foot; NaN where no flow was looked at.",
        0,
        spare=True,
    ),
    number(
        "cut_off_m3_s", "m3/s", "Mapped flow that cuts off the way back; NaN none.", 0, spare=True
    ),
    number(
        "cut_off_rise_m", "m", "How much higher the water stands then; NaN unknown.", spare=True
    ),
)
"""When the way back closes."""

CASTS: Mapping[Cast, str] = {cast: f"fit_{cast.name.lower()}" for cast in Cast}
"""Column of each cast: whether it has room."""

ANGLER_LAYERS: tuple[Layer, ...] = (
    Layer(
        "wading",
        "Polygon",
        "How water grades for this person on foot.",
        (
            *FLOW,
            word("grade", WadeGrade, "Grade."),
            number("area_m2", "m2", "Area.", 0),
            number("chance", "1", "Chance of being beyond a limit is under this.", 0, 1),
            number("out_m", "m", "How far from ground one can stand; NaN where nobody can.", 0),
            number("depth_m", "m", "Deepest to reckon with, margins in force.", 0, 60),
            number("speed_m_s", "m/s", "Quickest to reckon with, margins in force.", 0, 60),
            flag("bank_left", "Whether ground on river left is beside it."),
            flag("bank_right", "Whether ground on river right is beside it."),
            flag("bank_island", "Whether an island or bar is beside it."),
            number("bank_share", "1", "Share of its length with ground beside it.", 0, 1),
            word("bank_at", Stretch, "Where that ground is; missing: nowhere.", missing=True),
            number("no_way_share", "1", "Share of it to which no way leads on foot.", 0, 1),
            number("deep_share", "1", "Share from which one drifts out of bounds.", 0, 1),
            flag("drift_lost", "Whether a drift from it runs into unknown water or off the map."),
            word("below_kind", HazardKind, "Hazard down the current; missing: none.", missing=True),
            text("below_note", "What was written on it, or empty."),
            number("below_m", "m", "How far down the current it lies; 0 here; NaN none.", 0),
            number("near_m", "m", "Nearest drawn hazard, straight; NaN none is drawn.", 0),
            number("looked_m", "m", "How far down the current was looked.", 0),
            *WAY_BACK,
        ),
        NOTE,
    ),
    Layer(
        "bars",
        "Polygon",
        "Dry ground with water all round: islands, bars and rocks, and the way back from them.",
        (
            *FLOW,
            text("code", "Short name of the flow's bar, numbered downstream."),
            number("area_m2", "m2", "Dry area.", 0),
            number("station_m", "m", "Upper end, downstream along the main line."),
            flag("on_foot", "Whether water one can wade joins it to a bank."),
            number("height_m", "m", "How high it stands above the water around it."),
            *WAY_BACK,
        ),
        NOTE,
    ),
    Layer(
        "stations",
        "Point",
        "Places to stand and cast from.",
        (
            *FLOW,
            text("code", "Short name: the water's code and a number, downstream."),
            text("water", "Code of the water it fishes."),
            word("side", Side, "Bank one stands on."),
            number("station_m", "m", "Downstream along the main line.", spare=True),
            number("depth_m", "m", "Depth where one stands; 0 on dry ground.", 0, 60),
            number("speed_m_s", "m/s", "Speed where one stands.", 0, 20),
            number("room_m", "m", "Clear room behind, along the loop; NaN unknown.", 0),
            *(
                word(column, CastFit, f"Whether a {cast.value} has room.", spare=True)
                for cast, column in CASTS.items()
            ),
            word("cast", Cast, "Cast to make here; missing: none has room.", spare=True),
            text("rod", "Rod from the kit for it.", spare=True),
            text("head", "Head from the kit for it.", spare=True),
            word("loop_side", LoopSide, "Side of the loop.", spare=True),
            flag("natural_hand", "Whether the angler's own hand is up.", spare=True),
            number("cast_m", "m", "Length of the cast that reaches the water.", 0),
            number(
                "angle_deg", "degrees", "Down from straight across: 0 across, 90 straight down."
            ),
            number("target_deg", "degrees", "Direction of the cast, east to north.", spare=True),
            number("down_deg", "degrees", "Direction of the current, east to north.", spare=True),
            number("head_max_m", "m", "Longest head that fits behind.", 0),
            text("tip", "Sink tip from the kit."),
            word("tip_wants", TipWant, "A tip not owned that it wants.", spare=True),
            number("swing_s", "s", "Seconds from landing to hang-down.", 0),
            number("wait_s", "s", "From floating line straight to fly straight.", 0, spare=True),
            number("zone_s", "s", "The fly swims its water at the wanted pace.", 0, spare=True),
            number("fly_speed_m_s", "m/s", "Speed of the fly across the current.", 0, spare=True),
            number("fly_depth_m", "m", "Depth of the fly in the strike zone.", 0, spare=True),
            word("swing_end", SwingEnd, "How the swing ends.", spare=True),
            *PLAN,
            word("access", WayIn, "How one gets there.", spare=True),
            number(
                "odds",
                "1",
                "What it adds to its run's odds, over the flow's best place; NaN not fished.",
                0,
                100,
                spare=True,
            ),
            *WAY_BACK,
            *HAZARD,
        ),
        (
            text("casts", "Casts that fit or fit tightly."),
            text("tight", "Casts that fit only within the doubt of the numbers."),
            text("plan", "How to swing from there, in the folder's units."),
            *NOTE,
        ),
    ),
    Layer(
        "covered",
        "Polygon",
        "Water in which the casts from all places swim rightly for this person.",
        (
            *FLOW,
            number("area_m2", "m2", "Area.", 0),
            number("seconds", "s", "Seconds of good view that a fish there gets, the mean.", 0),
        ),
    ),
    Layer(
        "beyond",
        "Polygon",
        "Swing water that casts of this person get to from one bank alone, or from none.",
        (
            *FLOW,
            number("area_m2", "m2", "Area.", 0),
            word("only_from", OnlyFrom, "From where alone a cast gets there."),
        ),
    ),
    Layer(
        "hazards_near",
        "Point",
        "Drawn hazards near each piece of swing water, and places to stand left out for them.",
        (
            *FLOW,
            text("water", "Code of the piece of water."),
            count("number", "Place of the hazard in the drawing, from 1."),
            word("kind", HazardKind, "Kind of hazard."),
            word("way", HazardWay, "How one comes to it."),
            number("distance_m", "m", "How far off it lies, along that way.", 0),
            word("toward", Toward, "On which side it lies."),
            count("left_out", "Places to stand that were left out because of it."),
            text("note", "What was written on it, or empty."),
        ),
    ),
    Layer(
        "swings",
        "LineString",
        "Paths of the fly from landing to the end of the swing, one a station and strip.",
        (
            *FLOW,
            text("code", "Code of the station."),
            text("water", "Code of the water."),
            *SWUM,
            number("swing_s", "s", "Seconds from landing to the end.", 0),
            number("slows_s", "s", "Until the fly slows into the wanted pace; NaN never.", 0),
            number("wait_s", "s", "From floating line straight to fly straight.", 0, spare=True),
            word("swing_end", SwingEnd, "How it ends."),
            word("tip_wants", TipWant, "A tip not owned that it wants.", spare=True),
            number("length_m", "m", "Length of the path.", 0),
        ),
        NOTE,
    ),
    Layer(
        "tip_ladder",
        "Point",
        "What every tip owned would do in each piece of swing water, from each bank.",
        (*FLOW, *LADDER),
    ),
)
"""What is worked out for the person who wades and casts."""
