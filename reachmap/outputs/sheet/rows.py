"""What the sheet's table says of each piece of water at a flow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np

from reachmap.base.units import LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem
from reachmap.outputs.handheld import water_names
from reachmap.outputs.product import Product
from reachmap.outputs.standing import (
    Standing,
    room_told,
    stand_told,
    standing_of,
    water_codes,
)

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
    water = product.layers["water"]
    water = water[water["flow_label"] == label]
    stations = product.layers["stations"]
    stations = stations[stations["flow_label"] == label]
    codes = water_codes(stations)
    minutes = _minutes(product.layers["runs"])
    units = product.markup.plan.units
    names = sorted(
        water_names(water, product).items(), key=lambda item: water["station_m"][item[0]]
    )
    met = _met(product.layers.get("hazards_near"), label)
    rows = [
        _row(water.loc[index], index, name, stations[codes == str(code)], minutes, units)
        for index, name in names
        for code in [water["code"][index]]
    ]
    return [replace(row, hazard=str(water["code"][row.index]) in met) for row in rows]


def _met(near: gpd.GeoDataFrame | None, label: str) -> frozenset[str]:
    """Return the codes of water where one comes to a drawn hazard, not only near one."""
    if near is None or near.empty:
        return frozenset()
    mine = near[(near["flow_label"] == label) & (near["way"] != "straight")]
    return frozenset(str(code) for code in mine["water"])


def _row(
    piece: Any,
    index: int,
    name: str,
    standing: gpd.GeoDataFrame,
    minutes: Mapping[str, float],
    units: UnitSystem,
) -> Row:
    """Return one row."""
    together = standing_of(standing)
    return Row(
        name=name,
        index=index,
        kind=str(piece["kind"]),
        run=str(piece["run"]),
        depth=_told(piece["depth_m"], LENGTH[units], 1),
        speed=_told(piece["speed_m_s"], SPEED[units], 1),
        stand=_stand(together, units),
        cast=_told(_median(standing, "cast_m"), LENGTH[units], 0),
        room=_room(together, units),
        tip=_commonest(standing, "tip"),
        minutes=_told(minutes.get(str(piece["run"]), float("nan")), "m", 0),
        unsure=str(piece["confidence"]) == "low",
        prime=piece.get("prime") == "yes",
        shuts="hand_shuts" in standing and bool((standing["hand_shuts"] == 1).any()),
    )


def _minutes(runs: gpd.GeoDataFrame) -> dict[str, float]:
    """Return the minutes of each run."""
    return dict(zip(runs["run"].astype(str), runs["minutes"].astype(float), strict=True))


def _stand(standing: Standing, units: UnitSystem) -> str:
    """Return how deep one stands where it is deepest; "none" where there is no place to stand."""
    if not standing.places:
        return "none"
    if standing.on_bank:
        return "bank"
    return stand_told(standing, lambda depth: _told(depth, LENGTH[units], 1))


def _room(standing: Standing, units: UnitSystem) -> str:
    """Return the least room behind, in words where any place is not known."""
    if not standing.places:
        return "none"
    return room_told(standing, lambda room: _told(room, LENGTH[units], 0))


def _told(value: float, unit: str, digits: int) -> str:
    """Return a number in a unit, without the unit's name."""
    number = float(value)
    return f"{from_si(number, unit):.{digits}f}" if np.isfinite(number) else NOT_KNOWN


def _median(frame: gpd.GeoDataFrame, column: str) -> float:
    """Return the median of what is known."""
    known = frame[column].astype(float).dropna()
    return float(known.median()) if len(known) else float("nan")


def _commonest(frame: gpd.GeoDataFrame, column: str) -> str:
    """Return the commonest word."""
    words = frame[column].astype(str)
    words = words[words != ""]
    return str(words.mode().iloc[0]) if len(words) else NOT_KNOWN
