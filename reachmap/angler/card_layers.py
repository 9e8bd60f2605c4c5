"""The layers that run cards are made from, put together by run and flow once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import geopandas as gpd

from reachmap.angler.ladder import LADDER
from reachmap.angler.near_runs import NEAR
from reachmap.angler.pace import PIECE, STAND
from reachmap.angler.run_plan import PLANNED
from reachmap.base.grouped import Grouped, grouped_by
from reachmap.base.schema_angler import CASTS as CAST_COLUMNS
from reachmap.water.by_run import named_by_run, water_by_run

BACK = ("flow", "open_until_m3_s", "cut_off_m3_s", "cut_off_rise_m")
"""Columns of `stations` and `bars` on when the way back closes."""

WATER = (*PIECE, "kind", "side", "prime", "score", "confidence", "depth_m", "geometry")
"""Columns of `water` that a card needs."""

STATION = (
    *(*STAND, *BACK, *CAST_COLUMNS.values()),
    *(
        "depth_m",
        "room_m",
        "head_max_m",
        "rod",
        "head",
        "loop_side",
        "natural_hand",
        "angle_deg",
        "tip",
    ),
    *("tip_wants", "swing_end", "wait_s", "fly_speed_m_s", "fly_depth_m", "looked_m"),
    *("above_bed_m", "head_out_m", "fed_m", "hang_down", *PLANNED),
    *("hand_m", "hand_flow_m3_s", "hand_shuts", "geometry"),
)
"""Columns of `stations` that a card needs."""


@dataclass(frozen=True, slots=True)
class CardLayers:
    """The layers that cards are made from, each put together by run and flow, or by flow, once.

    `hazards`, `bars` and `ladder` are None where there is no such layer.
    """

    water: Grouped
    stations: Grouped
    wading: Grouped
    bars: Grouped | None
    hazards: Grouped | None
    ladder: Grouped | None = None

    @classmethod
    def of(cls, layers: Mapping[str, gpd.GeoDataFrame]) -> CardLayers:
        """Return them from `water`, `stations`, `wading`, `bars`, `hazards_near` and `tip_ladder`.

        All stand over one or all flows.
        """
        water = layers["water"]
        bars, near = layers.get("bars"), layers.get("hazards_near")
        ladder = layers.get("tip_ladder")
        return cls(
            water_by_run(water, WATER),
            named_by_run(layers["stations"], water, STATION),
            grouped_by(layers["wading"], ("flow_label",), ("grade", "out_m", "geometry")),
            None if bars is None else grouped_by(bars, ("flow_label",), (*BACK, "geometry")),
            None if near is None else named_by_run(near, water, NEAR),
            None if ladder is None else named_by_run(ladder, water, LADDER),
        )

    def with_stations(self, stations: gpd.GeoDataFrame, water: gpd.GeoDataFrame) -> CardLayers:
        """Return them with other places to stand; `water` is the layer, runs filled in."""
        return replace(self, stations=named_by_run(stations, water, STATION))
