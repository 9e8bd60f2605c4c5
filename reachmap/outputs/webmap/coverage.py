"""Share of a run's water that is fished well by the casts."""

from __future__ import annotations

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
