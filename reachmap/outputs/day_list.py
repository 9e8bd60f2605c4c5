"""The day's short list of runs at a flow, in walking order, as every output shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import Point

from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.outputs.equals import equals_of
from reachmap.outputs.product import Product
from reachmap.text.numbers import text_of
from reachmap.text.odds import listed_rank, odds_words
from reachmap.text.today import mind_words, minutes_words, where_words


@dataclass(frozen=True, slots=True)
class Stop:
    """One run of the list.

    Parameters
    ----------
    number
        Its position in walking order, from 1.
    run
        Its name.
    by_boat
        Whether only a boat leads there.
    where, minutes, mind, odds, place
        Its prime stretch, the time for it, the one thing to mind, its odds, and its place among
        the flow's runs, in words; empty where not known.
    start, end
        Places to stand at the top and the foot of the prime stretch, project coordinates [m]; None
        where unknown.
    """

    number: int
    run: str
    by_boat: bool
    where: str
    minutes: str
    mind: str
    odds: str
    place: str
    start: Point | None = None
    end: Point | None = None

    @property
    def words(self) -> str:
        """Return the stop as one line."""
        boat = tr("by boat") if self.by_boat else ""
        texts = (self.where, self.minutes, boat, self.odds)
        parts = ", ".join(part for part in texts if part)
        if not parts:
            return self.run
        return f"{self.number} {self.run}: {parts}. {tr('Mind: {mind}.', mind=self.mind)}"

    @property
    def short(self) -> str:
        """Return the stop in short form, for a sheet or a terminal."""
        boat = tr("by boat") if self.by_boat else ""
        texts = (f"{self.number} {self.run}", self.where, self.minutes, boat, self.place)
        return " · ".join(part for part in (*texts, tr("mind: {mind}", mind=self.mind)) if part)


def day_list(product: Product, label: str) -> tuple[Stop, ...]:
    """Return the day's short list at a flow, in walking order; empty where no run can be fished."""
    held, key = product.held, ("day list", label)
    if key not in held:
        held[key] = _day_list(product, label)
    found: tuple[Stop, ...] = held[key]
    return found


def _day_list(product: Product, label: str) -> tuple[Stop, ...]:
    """Return the day's short list at a flow, worked out anew."""
    every = product.runs[product.runs["flow_label"] == label]
    table = every[every["pick"] > 0]
    equals = equals_of(every.to_dict("records"))
    runs = {str(row["run"]): row for row in product.layers["runs"].to_dict("records")}
    places = _places(product, label)
    return tuple(
        _stop(product, row, runs.get(str(row["run"]), {}), places, equals.get(str(row["run"]), ()))
        for row in table.sort_values("pick").to_dict("records")
    )


def _stop(
    product: Product,
    row: Mapping[Any, Any],
    run: Mapping[Any, Any],
    places: gpd.GeoDataFrame,
    equal: Sequence[str],
) -> Stop:
    """Return one run of the list; `equal` are those that the map cannot tell it apart from."""
    units: UnitSystem = product.markup.plan.units
    name, label = str(row["run"]), str(row["flow_label"])
    card = product.cards(name, label) if product.cards is not None else None
    mine = places[(places["run"] == name) & places["odds"].notna()].sort_values("station_m")
    station = mine["station_m"].to_numpy(dtype=np.float64)
    ends: list[Point | None] = [None, None]
    if len(mine):
        for k, at in enumerate((row["prime_start_m"], row["prime_end_m"])):
            if np.isfinite(at):
                ends[k] = mine.geometry.iloc[int(np.argmin(np.abs(station - at)))]
    facts = {str(key): value for key, value in row.items()}
    height = product.markup.plan.kit.angler.height_m
    return Stop(
        int(row["pick"]),
        name,
        bool(row["by_boat"]),
        where_words(facts, {str(key): value for key, value in run.items()}, units),
        minutes_words(facts),
        text_of(mind_words(facts, card, height, units)),
        odds_words(facts, equal),
        listed_rank(facts),
        *ends,
    )


def _places(product: Product, label: str) -> gpd.GeoDataFrame:
    """Return the places to stand at a flow, each with its run."""
    water = product.layers["water"]
    here = water[water["flow_label"] == label]
    run_of = dict(zip(here["code"].astype(str), here["run"].astype(str), strict=True))
    stations = product.layers["stations"]
    mine = stations[stations["flow_label"] == label]
    return mine.assign(run=mine["water"].astype(str).map(run_of))
