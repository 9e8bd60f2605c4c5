"""The numbers of the sheet's table for each piece of water at a flow."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import multimode
from typing import Any

import geopandas as gpd
import numpy as np

from reachmap.angler.places import PLACE, Places, places_of
from reachmap.base.grouped import Rows, grouped_by, known
from reachmap.base.words import Confidence, HazardWay, UnitSystem
from reachmap.outputs.handheld import water_name
from reachmap.outputs.product import Product
from reachmap.text.numbers import bare, whole_minutes
from reachmap.text.places import room_words, stand_words

NOT_KNOWN = "?"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; every value is text, "?" where nobody knows."""

    name: str
    index: int
    kind: str
    run: str
    depth: str
    speed: str
    stand: str
    cast: str
    room: str
    tip: str
    minutes: str
    unsure: bool
    prime: bool = False
    hazard: bool = False
    shuts: bool = False

    @property
    def marked(self) -> str:
        """Return its name with the signs of the key."""
        signs = (
            (self.prime, "*"), (self.unsure, "~"), (self.hazard, "!"), (self.shuts, "^"),
        )  # fmt: skip
        return self.name + "".join(sign for holds, sign in signs if holds)


def table_rows(product: Product, label: str) -> list[Row]:
    """Return the rows of a flow's table, from the head down, named as in the GPX files."""
    water, stations, table = (
        frame[frame["flow_label"] == label]
        for frame in (product.layers["water"], product.layers["stations"], product.runs)
    )
    stands = grouped_by(stations, ("water",), (*PLACE, "tip", "cast_m", "hand_shuts"))
    minutes = dict(zip(table["run"], table["minutes"], strict=True))
    met = _met(product.layers.get("hazards_near"), label)
    units = product.markup.plan.units
    rows = []
    order = water.sort_values("station_m", kind="stable")
    for index, piece in zip(order.index, order.to_dict("records"), strict=True):
        mine = stands.of(str(piece["code"]))
        time = float(minutes.get(piece["run"], math.nan))
        rows.append(_row(piece, int(index), mine, time, units, met=piece["code"] in met))
    return rows


def _met(near: gpd.GeoDataFrame | None, label: str) -> frozenset[str]:
    """Return the codes of water where one comes to a drawn hazard, not only near one."""
    if near is None:
        return frozenset()
    mine = near[(near["flow_label"] == label) & (near["way"] != HazardWay.STRAIGHT)]
    return frozenset(mine["water"])


def _row(
    piece: Mapping[str, Any],
    index: int,
    stands: Rows,
    minutes: float,
    units: UnitSystem,
    *,
    met: bool,
) -> Row:
    """Return one row."""
    together = places_of(stands)
    tips, casts = stands["tip"][stands["tip"] != ""], known(stands["cast_m"])
    return Row(
        name=water_name(piece["code"]),
        index=index,
        kind=str(piece["kind"]),
        run=str(piece["run"]),
        depth=bare("depth", piece["depth_m"], units),
        speed=bare("speed", piece["speed_m_s"], units),
        stand=_stand(together, units),
        cast=bare("reach", float(np.median(casts)) if len(casts) else math.nan, units),
        room=room_words(together, units, bare) if together.count else "none",
        tip=min(multimode(tips)) if len(tips) else NOT_KNOWN,
        minutes=str(whole_minutes(minutes)) if math.isfinite(minutes) else NOT_KNOWN,
        unsure=piece["confidence"] == Confidence.LOW,
        prime=bool(piece["prime"]),
        hazard=met,
        shuts=bool(stands["hand_shuts"].any()),
    )


def _stand(places: Places, units: UnitSystem) -> str:
    """Return how deep one stands where it is deepest; "none" where there is no place to stand."""
    if not places.count:
        return "none"
    return "bank" if places.on_bank else stand_words(places, units, bare)
