"""A made product whose runs have a row of places to walk, told apart by their odds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler import AnglerSettings, CardLayers, run_card
from reachmap.base.centreline import Centreline
from reachmap.base.schema import layer_frame, table_frame
from reachmap.outputs.product import Product
from tests.outputs.made_product import made_product

APART_M = 7.0
PLACES = 9


def walked_product(**made: Any) -> Product:
    """Return the made product with nine places a run, seven metres of bank apart.

    The run's own two places keep their depth and room; the others copy the first of them.
    """
    product = made_product(**made)
    line = Centreline.of(product.ground)
    rows = []
    for row in product.layers["stations"].to_dict("records"):
        if not str(row["code"]).endswith("-1"):
            continue
        place = row["geometry"]
        station, offset = line.to_station_offset(np.array([place.x]), np.array([place.y]))
        along = station[0] + APART_M * (np.arange(PLACES) - PLACES // 2)
        x, y = line.from_station_offset(along, np.full(PLACES, offset[0]))
        for number, (s, east, north) in enumerate(zip(along, x, y, strict=True), start=1):
            code = f"{row['water']}-{number}"
            told = {"code": code, "station_m": float(s), "odds": 50.0 + number}
            rows.append(row | told | {"geometry": gpd.points_from_xy([east], [north])[0]})
    stations = layer_frame("stations", rows, str(product.layers["stations"].crs))
    return with_stations(product, stations)


def with_stations(product: Product, stations: gpd.GeoDataFrame) -> Product:
    """Return a product with other places to stand, and cards that know them."""
    layers = {**product.layers, "stations": stations}
    grouped, markup = CardLayers.of(layers), product.markup
    cards = lambda run, label: run_card(run, label, grouped, markup, AnglerSettings())  # noqa: E731
    return replace(product, layers=layers, cards=cards)


def with_table(product: Product, **columns: Any) -> Product:
    """Return a product whose table of runs by flow has other values in some columns."""
    told = product.runs.assign(**columns)
    return replace(product, runs=table_frame("runs_by_flow", told.to_dict("records")))


def listed(product: Product, label: str) -> pd.DataFrame:
    """Return the rows of the day's list at a flow, in walking order."""
    table = product.runs[(product.runs["flow_label"] == label) & (product.runs["pick"] > 0)]
    return table.sort_values("pick")
