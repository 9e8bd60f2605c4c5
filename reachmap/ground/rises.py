"""How far the water of each note's flow stands above the low water, at each note's own station."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.ground.levels import Levels

MOST_PROFILES = 40
"""Most flows of which a profile is worked out; more are read between so many (our choice, 20-100:
over a tenfold range two neighbours differ by a sixteenth, and the rise between is off by under a
hundredth of it)."""


def rises_at(levels: Levels, flow: FloatArray, station: FloatArray) -> FloatArray:
    """Return the rise above the low water [m] at each place for its own flow.

    Many flows, as a log of years has them, are read between `MOST_PROFILES` spaced evenly in ln Q,
    straight in ln Q: time and memory stay bounded.

    Parameters
    ----------
    levels
        Of the reach.
    flow
        Of each place [m3/s], > 0, shape (n,).
    station
        Of each place along the main line [m], shape (n,).
    """
    rise = np.full(flow.shape, np.nan)
    distinct = np.unique(flow)
    if distinct.size <= MOST_PROFILES:
        for one in distinct:
            mine = flow == one
            rise[mine] = levels.rise(float(one), station[mine])
        return rise
    nodes = np.geomspace(distinct[0], distinct[-1], MOST_PROFILES)
    at_nodes = np.array([levels.rise(float(node), station) for node in nodes])
    place = np.interp(np.log(flow), np.log(nodes), np.arange(nodes.size))
    low = np.minimum(place.astype(np.int64), nodes.size - 2)
    column = np.arange(flow.size)
    share = place - low
    return np.asarray((1 - share) * at_nodes[low, column] + share * at_nodes[low + 1, column])
