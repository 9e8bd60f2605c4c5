"""Heights of places for a GPS: the water surface where known, else the ground."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely import Point

from reachmap.base.grid import Grid
from reachmap.outputs.product import Product


def heights_at(product: Product, places: Sequence[Point], label: str = "") -> list[float]:
    """Return the height of each place [m above the DEM's datum], NaN where unknown.

    Parameters
    ----------
    product
        The built reach. Where its heights have no datum, all are NaN: a device would take them for
        heights above sea level.
    places
        In the project's CRS.
    label
        The flow whose water surface is used; "" for the ground.
    """
    if product.ground.attrs.get("vertical", "") != "dem" or not places:
        return [math.nan] * len(places)
    grid = Grid.of(product.ground)
    height = product.ground["bed"].to_numpy()
    if label:
        level = product.flows["level"].to_numpy()[product.labels.index(label)]
        height = np.where(np.isfinite(level), level, height)
    x, y = (np.array([getattr(place, axis) for place in places]) for axis in "xy")
    rows, cols, inside = grid.index(x, y)
    return [
        float(height[row, col]) if ok else math.nan
        for row, col, ok in zip(rows, cols, inside, strict=True)
    ]
