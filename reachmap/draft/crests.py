"""Likely riffle crests: where the slope of the water surface along the line steepens."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from reachmap.base.arrays import FloatArray
from reachmap.draft.settings import CrestSettings
from reachmap.draft.water import Water


def crests(water: Water, settings: CrestSettings) -> FloatArray:
    """Return stations of likely riffle crests [m]; empty where the terrain shows no water surface.

    A riffle is a stretch that falls `quick` times the mean and `least_fall_m` in whole; its crest
    is where its fall first comes half way from the calmest within two widths above to its own
    steepest, if it is calm there at all: over a crest the water has begun to quicken (on the made
    rivers the bed's crests lie there; scripts/measure_draft.py).
    """
    if not water.seen:
        return np.empty(0)
    station = water.line.station
    step = water.line.step
    sigma = max(settings.calm_widths * water.width / step / 2, 1.0)
    level = gaussian_filter1d(water.level, sigma, mode="nearest")
    fall = -np.gradient(level, station)
    mean = float(water.level[0] - water.level[-1]) / max(float(station[-1]), 1.0)
    if mean <= 0:
        return np.empty(0)
    quick = fall >= settings.quick * mean
    edges = np.flatnonzero(np.diff(np.r_[0, quick.astype(int), 0]))
    found = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        if water.level[first] - water.level[last] < settings.least_fall_m:
            continue
        above = max(first - int(2 * water.width / step), 0)
        if first - above < 2:
            continue
        before = fall[above : first + 1]
        calm = float(before.min())
        if calm > settings.calm * mean:
            continue
        riffle = fall[first : last + 1]
        half = (calm + float(riffle.max())) / 2
        found.append(station[first + int(np.flatnonzero(riffle >= half)[0])])
    return np.array(found)
