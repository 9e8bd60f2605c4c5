"""Share of a run's water that is fished well by the casts."""

from __future__ import annotations

import geopandas as gpd
import shapely

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
    swum = {
        str(label): shapely.union_all(mine.geometry.to_numpy())
        for label, mine in covered.groupby("flow_label")
    }
    found = {}
    for (label, run), mine in water.groupby(["flow_label", "run"]):
        whole = shapely.union_all(mine.geometry.to_numpy())
        if str(label) in swum and whole.area > 0:
            share = whole.intersection(swum[str(label)]).area / whole.area
            found[str(label), str(run)] = min(float(share), 1.0)
    return found
