"""How deep one stands for a piece of water or a run, and the room behind there: one rule for all.

Sheet, map and files take these numbers from here. Over several places to stand the doubtful figure
counts: the deepest place, the least room; and where one place is not known, neither is the whole.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray

NOT_KNOWN, NO_PLACE = "not known", "no place found"

BANK_M = 0.05
"""Standing shallower than this counts as standing on the bank [m]; our choice, 0.02-0.1."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What holds for all places to stand together.

    Parameters
    ----------
    places
        How many there are.
    deepest_m
        Depth to reckon with where one stands deepest [m]; NaN where any place is not known.
    least_room_m
        Clear room behind where there is least [m]; NaN where any place is not known.
    """

    places: int
    deepest_m: float = math.nan
    least_room_m: float = math.nan

    @property
    def on_bank(self) -> bool:
        """Return whether every place is on the bank or as good as on it."""
        return self.places > 0 and self.deepest_m < BANK_M


def standing_of(stations: gpd.GeoDataFrame) -> Standing:
    """Return depth and room over rows of the layer `stations`."""
    return Standing(
        len(stations),
        _doubtful(stations["depth_m"].to_numpy(dtype=np.float64), np.max),
        _doubtful(stations["room_m"].to_numpy(dtype=np.float64), np.min),
    )


def together(parts: Iterable[Standing]) -> Standing:
    """Return what holds for all places of several waters; waters without a place do not count."""
    kept = [part for part in parts if part.places]
    return Standing(
        sum(part.places for part in kept),
        _doubtful(np.array([part.deepest_m for part in kept]), np.max),
        _doubtful(np.array([part.least_room_m for part in kept]), np.min),
    )


def water_codes(stations: gpd.GeoDataFrame) -> pd.Series:
    """Return the code of the water that each row of `stations` fishes.

    Where the column `water` is empty the station's own code names it, before a dot or a dash.
    """
    own = stations["code"].astype(str).str.split(r"[.-]", regex=True).str[0]
    named = stations["water"].astype(str) if "water" in stations else own
    found: pd.Series = named.where(named != "", own)
    return found


def by_water(stations: gpd.GeoDataFrame) -> dict[tuple[str, str], Standing]:
    """Return what holds for each water, by label of the flow and code of the water."""
    groups = stations.groupby([stations["flow_label"].astype(str), water_codes(stations)])
    return {(str(label), str(code)): standing_of(rows) for (label, code), rows in groups}


def stand_told(standing: Standing, told: Callable[[float], str]) -> str:
    """Return how deep one stands, in words: ``to 2.3 ft``, ``on the bank``, ``not known``.

    Parameters
    ----------
    standing
        Of the places to stand.
    told
        Writes a depth [m] with its unit.
    """
    if not standing.places:
        return NO_PLACE
    if not math.isfinite(standing.deepest_m):
        return NOT_KNOWN
    return "on the bank" if standing.on_bank else f"to {told(standing.deepest_m)}"


def room_told(standing: Standing, told: Callable[[float], str]) -> str:
    """Return the room behind the tightest place, in words: ``25 ft``, ``not known``."""
    if not standing.places:
        return NO_PLACE
    if not math.isfinite(standing.least_room_m):
        return NOT_KNOWN
    return told(standing.least_room_m)


def _doubtful(values: FloatArray, extreme: Callable[[FloatArray], float]) -> float:
    """Return an extreme of values; NaN where there is none or any is not known."""
    known = values.size > 0 and bool(np.isfinite(values).all())
    return float(extreme(values)) if known else math.nan
