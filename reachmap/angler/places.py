"""Wading depth and room behind at the places of a piece of water or a run.

Over several places the conservative figure counts: the deepest place, the least room; where one
place is not known, neither is the whole.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.grouped import Rows, grouped_by

BANK_M = 0.05
"""Standing shallower than this counts as standing on the bank [m]; our choice, 0.02-0.1."""

PLACE = ("depth_m", "room_m")
"""Columns of the layer `stations` that are needed."""


@dataclass(frozen=True, slots=True)
class Places:
    """Number, greatest depth and least room over several places.

    Parameters
    ----------
    count
        How many there are.
    deepest_m
        Depth to reckon with where one stands deepest [m]; NaN where any place is not known.
    least_room_m
        Clear room behind where there is least [m]; NaN where any place is not known.
    """

    count: int
    deepest_m: float = math.nan
    least_room_m: float = math.nan

    @property
    def on_bank(self) -> bool:
        """Return whether every place is on the bank or as good as on it."""
        return self.count > 0 and self.deepest_m < BANK_M


def places_of(stations: Rows) -> Places:
    """Return depth and room over rows of the layer `stations`, columns `PLACE` at least."""
    return Places(
        len(stations),
        _doubtful(stations["depth_m"], np.max),
        _doubtful(stations["room_m"], np.min),
    )


def combined_places(parts: Iterable[Places]) -> Places:
    """Return what holds for all places of several waters; waters without a place do not count."""
    kept = [part for part in parts if part.count]
    return Places(
        sum(part.count for part in kept),
        _doubtful(np.array([part.deepest_m for part in kept]), np.max),
        _doubtful(np.array([part.least_room_m for part in kept]), np.min),
    )


def places_by_water(stations: gpd.GeoDataFrame) -> dict[tuple[str, str], Places]:
    """Return what holds for each water, by label of the flow and code of the water."""
    groups = grouped_by(stations, ("flow_label", "water"), PLACE)
    return {(label, code): places_of(groups.of(label, code)) for label, code in groups.places}


def _doubtful(values: FloatArray, extreme: Callable[[FloatArray], float]) -> float:
    """Return an extreme of values; NaN where there is none or any is not known."""
    known = values.size > 0 and bool(np.isfinite(values).all())
    return float(extreme(values)) if known else math.nan
