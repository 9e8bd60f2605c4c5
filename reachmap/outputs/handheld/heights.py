"""Heights of places for a GPS: the water surface where known, else the ground."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely import Point

from reachmap.base.grid import Grid
from reachmap.base.packed import values_at
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
    x, y = (np.array([getattr(place, axis) for place in places]) for axis in "xy")
    rows, cols, inside = grid.index(x, y)
    cells = np.where(inside, rows * grid.shape[1] + cols, 0).astype(np.int32)
    height = values_at(product.ground["bed"], cells)
    if label:
        here = product.flows["level"].isel(flow=product.labels.index(label))
        level = values_at(here, cells)
        height = np.where(np.isfinite(level), level, height)
    return [float(one) if ok else math.nan for one, ok in zip(height, inside, strict=True)]
