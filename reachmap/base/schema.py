"""Schema of every layer and table: columns, units, ranges and allowed words.

The one table behind the check at each stage's exit, the schema of the GeoPackage and the list of
layers in docs/files.md (`python scripts/layers.py`). `schema_water` and `schema_angler` hold the
layers of one flow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import pandas as pd

from reachmap.base.columns import (
    Frame,
    Layer,
    checked,
    count,
    flag,
    frame_of,
    number,
    table_of,
    text,
    typed,
    word,
)
from reachmap.base.schema_angler import ANGLER_LAYERS, HAZARD, NOTE
from reachmap.base.schema_water import FLOW, WATER_LAYERS
from reachmap.base.words import (
    Footing,
    Lack,
    LogKind,
    NamedBy,
    Side,
    SurveyKind,
    SurveyWay,
    WaterKind,
)
from reachmap.base.words_runs import Mind, Shut

LAYERS: tuple[Layer, ...] = (
    *WATER_LAYERS,
    *ANGLER_LAYERS,
    Layer(
        "runs",
        "Polygon",
        "A stretch one fishes through, over all flows.",
        (
            text("run", "Name."),
            count("stretch", "Number of its fixed stretch of bank; 0: it was drawn.", spare=True),
            word("named_by", NamedBy, "Who named it."),
            word("side", Side, "Bank it lies on; missing: not told.", missing=True),
            number("station_m", "m", "Upper end."),
            number("extent_m", "m", "River that all its water covers at its best flow.", 0),
            number("best_flow_m3_s", "m3/s", "Flow with the best score.", 0),
            number("length_m", "m", "Length fished at its best flow.", 0, spare=True),
            number(
                "minutes", "min", "Time to fish it once through at its best flow.", 0, spare=True
            ),
            number("window_low_m3_s", "m3/s", "Lowest flow of its window.", 0, spare=True),
            number("window_high_m3_s", "m3/s", "Highest flow of its window.", 0, spare=True),
            number("window_best_m3_s", "m3/s", "Flow with its best odds.", 0, spare=True),
            flag("window_wide", "Whether it is wider than a run's should be.", spare=True),
            word("window_low_kind", WaterKind, "Its best water at that lowest flow.", spare=True),
            word("window_high_kind", WaterKind, "The same at that highest flow.", spare=True),
            number("window_low_depth_m", "m", "Median depth of the first.", 0, 60, spare=True),
            number("window_high_depth_m", "m", "Median depth of the second.", 0, 60, spare=True),
            flag("window_open_low", "Whether it may go on below the flows read.", spare=True),
            flag("window_open_high", "Whether it may go on above them.", spare=True),
            *HAZARD,
            count("places", "Places to stand at its best flow.", spare=True),
            count("left_out", "Places left out for a hazard at its best flow.", spare=True),
        ),
        (text("flows_in_shape", "Labels of the flows at which it fishes."), *NOTE),
    ),
    Layer(
        "asks",
        "Point",
        "Places where one sounding, stick timed or edge seen would sharpen the map most.",
        (
            text("code", "Short name, the most helpful first."),
            count("rank", "1 helps most."),
            count("order", "In which order to go: on foot bank by bank, by boat, from the banks."),
            word("way", SurveyWay, "How one comes to it; never a promise."),
            word("side", Side, "Bank one comes from; missing: neither.", missing=True),
            word("kind", SurveyKind, "What to note there."),
            number("station_m", "m", "Downstream along the main line."),
            number("offset_m", "m", "From the main line, positive to river left."),
            number("flow_m3_s", "m3/s", "Flow at which a stick is timed; NaN for others.", 0),
            text("cover", "Cover whose roughness a stick tells of; empty for others."),
            number("spread_m", "m", "Doubt of the depth there; NaN but for a sounding.", 0),
            number("gain", "1", "Share of the doubt in the water that matters it takes away.", 0),
        ),
        NOTE,
    ),
)
"""Every promised layer."""

RUNS_BY_FLOW = Layer(
    "runs_by_flow",
    "",
    "Each run at each flow: whether it fishes, and what does in its place.",
    (
        text("run", "Name."),
        *FLOW,
        flag("in_shape", "Whether its best water scores enough."),
        word("why", Lack, "What keeps it out of shape; missing: nothing.", missing=True),
        word("why_too", Lack, "What else does; missing: nothing else.", missing=True),
        word("kind", WaterKind, "Its best water; missing: there is none.", missing=True),
        text("code", "Code of its best water, or empty."),
        word("side", Side, "Bank of its best water.", missing=True),
        number("score", "1", "Score of its best water.", 0, 100),
        number("depth_m", "m", "Median depth of its best water, or of its place.", 0, 60),
        number("speed_m_s", "m/s", "Median speed of the same.", 0, 20),
        flag("prime", "Whether its best water holds its score over a fishable length."),
        text("instead", "Run that takes its place at that flow, or empty."),
        number("instead_score", "1", "Score of that one.", 0, 100),
        number("instead_m", "m", "How far downstream of it that lies; negative: upstream."),
        number("length_m", "m", "Length fished from the better bank.", 0, spare=True),
        number("minutes", "min", "Time to fish it once through; NaN: no place to.", 0, spare=True),
        word("wade", Footing, "From where its best water is fished.", spare=True),
        flag("between", "Whether the flow is a step between those asked for.", spare=True),
        number(
            "odds_hour",
            "1/h",
            "Share of the fish's time met by the casts of one pass, over the time it takes.",
            0,
            spare=True,
        ),
        number("odds", "1", "The same over that of the flow's best run.", 0, 100, spare=True),
        number("odds_low", "1", "Least of it, by the doubt of map and fish.", 0, 100, spare=True),
        number("odds_high", "1", "Most of it.", 0, 100, spare=True),
        count(
            "rank_low", "Best rank among the flow's runs, by the same doubt; 0 none.", spare=True
        ),
        count("rank_high", "Worst rank.", spare=True),
        number("passing", "1", "Share of it met on the way, not holding.", 0, 1, spare=True),
        count(
            "pick",
            "Its number in the day's short list, in walking order; 0: not on it.",
            spare=True,
        ),
        flag("by_boat", "Whether only a boat leads to the places it is fished from.", spare=True),
        word("shut", Shut, "Why nobody goes there at that flow; missing: one can.", spare=True),
        number(
            "opens_m3_s", "m3/s", "Nearest flow read at which one can; NaN none.", 0, spare=True
        ),
        number("prime_start_m", "m", "Upper end of its prime stretch; NaN none.", spare=True),
        number("prime_end_m", "m", "Lower end of its prime stretch.", spare=True),
        number("prime_minutes", "min", "Time to fish that once through.", 0, spare=True),
        word("mind", Mind, "The one thing to mind there; missing: nothing is known.", spare=True),
    ),
)
"""The table of runs by flow."""

LOG = Layer(
    "log",
    "Point",
    "What was kept of trips, newest first; a layer of its own, so that nobody hands it on unasked.",
    (
        text("code", "L1, L2 and so on."),
        word("kind", LogKind, "What the row stands for."),
        text("date", "Day, of the newest trip where there are several."),
        text("run", "Name of the run, or empty."),
        count("trips", "How many trips it stands for; 0 for what was seen or measured."),
        number("flow", "m3/s", "Discharge; NaN where nobody knows.", 0),
        text("near_label", "Label of the mapped flow it counts for, or empty."),
        count("touches", "Fish that touched the fly."),
        count("landed", "Of them, landed."),
        number("minutes", "min", "Time fished; NaN where it was not written down.", 0),
        number("depth_m", "m", "Of a sounding."),
        number("speed_m_s", "m/s", "Of a speed."),
        text("note", "What was written down, in one line."),
    ),
)
"""The angler's own log; not among `LAYERS`, which every writer writes."""

BY_NAME: Mapping[str, Layer] = {layer.name: layer for layer in (*LAYERS, RUNS_BY_FLOW, LOG)}


def layer_frame(name: str, rows: Sequence[Mapping[str, Any]], crs: str) -> gpd.GeoDataFrame:
    """Return rows as a typed, checked layer of `LAYERS`; see `columns.frame_of`."""
    return frame_of(BY_NAME[name], rows, crs)


def table_frame(name: str, rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Return rows as a typed, checked table; see `columns.table_of`."""
    return table_of(BY_NAME[name], rows)


def as_promised(name: str, frame: Frame) -> Frame:
    """Return a layer or table in the dtypes promised, checked: read from a file, or filled in."""
    return checked(BY_NAME[name], typed(BY_NAME[name], frame))
