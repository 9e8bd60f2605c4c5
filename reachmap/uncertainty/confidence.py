"""Confidence of each piece of water, and the ensemble's spread at a flow in a few numbers."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from scipy.ndimage import find_objects

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.grid import Grid
from reachmap.base.words import Confidence, Wet
from reachmap.uncertainty.settings import UncertaintySettings

BAND = (0.1, 0.9)
"""Chance of being wet between which the edge of the water lies (our choice: four in five)."""

MEANS = ("suits_chance", "agreement")
"""Fields of the ensemble whose means over a piece enter its confidence."""

MEAN_BOUNDS = (0.05, 0.98)
"""Means are held within these: twelve members resolve no chance nearer to 0 or 1 (our choice)."""


def with_confidence(
    water: gpd.GeoDataFrame,
    flowing: xr.Dataset,
    uncertainty: xr.Dataset,
    width: float,
    settings: UncertaintySettings,
) -> gpd.GeoDataFrame:
    """Return the water of one flow with chance and confidence taken from the ensemble.

    `chance` is that of at least half of a piece being there; `confidence` its grade, one step lower
    next to unknown water.

    Parameters
    ----------
    water
        The layer at that flow.
    flowing, uncertainty
        The flow and the uncertainty stage's Datasets of that flow alone.
    width
        The river's usual width [m].
    settings
        Of the uncertainty stage: weights of the chance, bounds of the grades.
    """
    order = [word.value for word in Confidence]
    if water.empty:
        return water
    owner, count = owners_of(water, flowing), len(water)
    chance = chance_of_half(
        [means_of(uncertainty[name].to_numpy()[0], owner, count) for name in MEANS],
        water["score"].to_numpy(),
        water.geometry.area.to_numpy() / width**2,
        settings,
    )
    grades = water["confidence"].to_numpy(dtype=object, copy=True)
    unknown = flowing["wet"].to_numpy()[0] == Wet.UNKNOWN
    for number, window in enumerate(find_objects(owner, max_label=count)):
        near_unknown = bool(unknown[window].any()) if window else True
        grade = _grade(float(chance[number]), settings) - near_unknown
        grades[number] = order[max(grade, 0)]
    confidence = pd.Series(grades, water.index, water["confidence"].dtype)
    return water.assign(confidence=confidence, chance=chance)


def chance_of_half(
    means: Sequence[FloatArray], score: FloatArray, size: FloatArray, settings: UncertaintySettings
) -> FloatArray:
    """Return the chance that at least half of each piece of water is there, 0 to 1.

    Logistic regression on the ensemble's means over its cells, its score and its size.

    Parameters
    ----------
    means
        Mean `suits_chance` and mean `agreement` of each piece.
    score
        0 to 100.
    size
        Area over the river's width squared.
    settings
        The law's weights.
    """
    constant, suits, scored, sized, agrees = settings.holding
    odds = [np.log(mean / (1 - mean)) for mean in (np.clip(one, *MEAN_BOUNDS) for one in means)]
    total = constant + suits * odds[0] + agrees * odds[1]
    total = total + scored * score / 100 + sized * np.log(np.maximum(size, 1e-6))
    return np.asarray(1 / (1 + np.exp(-total)))


def means_of(values: FloatArray, owner: IntArray, count: int) -> FloatArray:
    """Return the mean over the cells of each piece; unknown cells count as 0."""
    inside = owner > 0
    piece, known = owner[inside] - 1, np.nan_to_num(values[inside])
    cells = np.bincount(piece, minlength=count)
    return np.bincount(piece, known, count) / np.maximum(cells, 1)


def owners_of(pieces: gpd.GeoDataFrame, flowing: xr.Dataset) -> IntArray:
    """Return for each cell the number of the piece it lies in, from 1; 0 for none."""
    return Grid.of(flowing).rasterize(pieces.geometry)


def _grade(chance: float, settings: UncertaintySettings) -> int:
    """Return 0, 1 or 2 of a chance."""
    return int(chance >= settings.fair_from) + int(chance >= settings.good_from)


def spread_at(uncertainty: xr.Dataset, index: int) -> dict[str, float | None]:
    """Return the ensemble's spread at one flow in a few numbers.

    `depth_m` and `speed_m_s` are the median spreads where the map is wet, `edge_m` the usual width
    of the band in which the edge lies [m], `agreement` the mean over the wet cells.
    """
    one = uncertainty.isel(flow=index)
    chance = one["wet_chance"].to_numpy()
    cell = Grid.of(uncertainty).cell
    with np.errstate(invalid="ignore"):
        band = (chance > BAND[0]) & (chance < BAND[1])
        wet = chance >= 0.5
    # Cell sides along the edge of the wet area; the band's area over that length is its width.
    rim = int(np.diff(wet, axis=0).sum() + np.diff(wet, axis=1).sum())
    return {
        "depth_m": _middle(one["depth_spread"].to_numpy()),
        "speed_m_s": _middle(one["speed_spread"].to_numpy()),
        "edge_m": round(float(band.sum()) * cell / rim, 2) if rim else None,
        "agreement": mean_agreement(one),
    }


def mean_agreement(one: xr.Dataset) -> float | None:
    """Return the mean agreement over the wet cells of one flow; None where nothing is wet."""
    known = one["agreement"].to_numpy()
    known = known[np.isfinite(known)]
    return round(float(known.mean()), 4) if known.size else None


def _middle(values: FloatArray) -> float | None:
    """Return the median of what is known; None if nothing is."""
    known = values[np.isfinite(values)]
    return round(float(np.median(known)), 3) if known.size else None
