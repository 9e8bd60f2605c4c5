"""Drift of a boat down the reach: the mean speed along the thalweg, by steps of the main line."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.words import Wet

THALWEG_CELLS = 3
"""Number of cells with the largest unit discharge that make a step's thalweg; our choice, 1-5."""

SLOWEST_M_S = 0.05
"""Lower bound of the drift [m/s]: one rows through a dead pool."""


def float_line(
    ground: xr.Dataset, flow: xr.Dataset, step_m: float
) -> tuple[tuple[float, ...], tuple[float, ...], float]:
    """Return stations [m], seconds to drift to each, and the share of steps without a known speed.

    Parameters
    ----------
    ground
        The ground stage's Dataset, with `station`.
    flow
        The flow stage's Dataset at one flow (y, x).
    step_m
        Length of a step along the main line [m].

    Notes
    -----
    A step's speed is the mean over the cells with the largest unit discharge, depth times speed; it
    is averaged over the depth. The surface runs quicker (by about 1/0.85, practice of stream
    gaugers, from memory) and oars hold back: neither is taken into account. Steps without a known
    speed get the slowest known one, so that the time is rather too long.
    """
    station = ground["station"].to_numpy()
    depth, east, north = (flow[name].to_numpy() for name in ("depth", "east_speed", "north_speed"))
    speed = np.hypot(east, north)
    wet = (flow["wet"].to_numpy() == Wet.YES) & np.isfinite(station * depth * speed)
    if not wet.any():
        return (), (), 1.0
    at, carried, quick = station[wet], (depth * speed)[wet], speed[wet]
    first = float(np.floor(at.min() / step_m)) * step_m
    bins = ((at - first) / step_m).astype(np.int64)
    speeds = _thalweg_speeds(bins, carried, quick)
    unknown = np.isnan(speeds)
    speeds = np.maximum(np.where(unknown, np.nanmin(speeds), speeds), SLOWEST_M_S)
    seconds = np.r_[0.0, np.cumsum(step_m / speeds)]
    stations = first + step_m * np.arange(seconds.size)
    along = tuple(float(one) for one in stations)
    return along, tuple(round(float(one), 1) for one in seconds), float(unknown.mean())


def _thalweg_speeds(bins: np.ndarray, carried: FloatArray, quick: FloatArray) -> FloatArray:
    """Return the speed of each step's thalweg [m/s], shape (steps,); NaN unknown."""
    order = np.lexsort((-carried, bins))  # by step, within it the largest unit discharge first
    bins, quick = bins[order], quick[order]
    starts = np.searchsorted(bins, np.arange(bins[-1] + 2))
    found = np.full(int(bins[-1]) + 1, np.nan)
    for number, (begin, end) in enumerate(pairwise(starts.tolist())):
        if end > begin:
            found[number] = quick[begin : min(end, begin + THALWEG_CELLS)].mean()
    return found
