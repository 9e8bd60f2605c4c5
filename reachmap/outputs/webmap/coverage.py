"""Shares of a run's water that the casts fish well, and that they do not get to."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import shapely
from shapely.geometry.base import BaseGeometry

from reachmap.outputs.product import Product


def covered_shares(product: Product) -> dict[tuple[str, str], float]:
    """Return the share of each run's water that is fished well, by flow label and name.

    From the layers `water` and `covered`; 0 to 1. Flows without results are left out, since the
    share is unknown there.
    """
    water: gpd.GeoDataFrame = product.layers["water"]
    covered: gpd.GeoDataFrame | None = product.layers.get("covered")
    if covered is None or not len(covered):
        return {}
    swum: dict[str, BaseGeometry] = product.once(
        "swum",
        ("layers",),
        lambda: {
            str(label): shapely.union_all(mine.geometry.to_numpy())
            for label, mine in covered.groupby("flow_label")
        },
    )

    def share_of(label: str, mine: gpd.GeoDataFrame) -> float | None:
        whole = shapely.union_all(mine.geometry.to_numpy())
        if label not in swum or not whole.area > 0:
            return None
        return min(float(whole.intersection(swum[label]).area / whole.area), 1.0)

    found = {}
    # Held by the pieces of a run: what it is called does not matter.
    by_pieces: dict[tuple[str, ...], float | None] = product.once("shares", ("layers",), dict)
    for (label, run), mine in water.groupby(["flow_label", "run"]):
        pieces = str(label), *mine["code"].astype(str)
        if pieces not in by_pieces:
            by_pieces[pieces] = share_of(str(label), mine)
        share = by_pieces[pieces]
        if share is not None:
            found[str(label), str(run)] = share
    return found


def beyond_shares(product: Product) -> dict[tuple[str, str], Mapping[str, float]]:
    """Return the shares of each run's water that casts get to from one bank alone, or from none.

    By flow label and name, then by the words of `OnlyFrom`; 0 to 1. From the layers `water` and
    `beyond`; empty where that is not known.
    """
    water: gpd.GeoDataFrame = product.layers["water"]
    beyond: gpd.GeoDataFrame | None = product.layers.get("beyond")
    if beyond is None or not len(beyond):
        return {}
    patches = {
        (str(label), str(only)): shapely.union_all(mine.geometry.to_numpy())
        for (label, only), mine in beyond.groupby(["flow_label", "only_from"], observed=True)
    }
    found: dict[tuple[str, str], Mapping[str, float]] = {}
    for (label, run), mine in water.groupby(["flow_label", "run"]):
        whole = shapely.union_all(mine.geometry.to_numpy())
        if whole.area > 0:
            found[str(label), str(run)] = {
                only: min(float(whole.intersection(patch).area / whole.area), 1.0)
                for (at, only), patch in patches.items()
                if at == str(label)
            }
    return found
