"""The water level at the foot of the reach, by flow."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.errors import BuildError, Fault
from reachmap.flow.sections import SectionTables


def normal_foot_level(
    tables: SectionTables,
    flow: float,
    *,
    slope: float,
    foot: float,
    stretch_m: float,
    shorten: bool = True,
) -> float:
    """Return the level of uniform flow at the foot [m].

    Parameters
    ----------
    tables
        The sections by level.
    flow
        Discharge [m3/s], > 0.
    slope
        Fall of the river over length [m/m], > 0.
    foot
        Station of the foot [m].
    stretch_m
        Length above the foot over which the friction is averaged [m]; three sections at least.
    shorten
        Whether fewer sections are averaged where the whole stretch gives no level.

    Raises
    ------
    BuildError
        If the slope is not known and positive, or the sections cannot carry the flow.

    Notes
    -----
    The level at which water that falls with the slope loses, on average over the stretch, just that
    slope: mean (Q/K)^2 = S. In a uniform channel this is normal depth; over pools and riffles the
    riffles rule, as they do on the river. A flow that the tables' lowest rows carry already, as
    over cells that each fall more than it is deep, stands at the lowest level of these. Where the
    bed above the foot steps out of what the tables hold, fewer sections are averaged.
    """
    if not (np.isfinite(slope) and slope > 0):
        raise BuildError([_no_slope(slope)])
    count = tables.station.size
    most = min(max(round(stretch_m / tables.step), 3), count)
    for number in range(most, 0 if shorten else most - 1, -1):
        use = np.arange(count - number, count, dtype=np.int32)
        level = _uniform(tables, flow, slope, use, slope * (foot - tables.station[use]))
        if np.isfinite(level):
            return level
    raise BuildError([_too_much(flow)])


def _uniform(
    tables: SectionTables, flow: float, slope: float, use: IntArray, lift: FloatArray
) -> float:
    """Return the level of uniform flow over sections [m]; NaN where none within their tables is.

    `lift` is how far the water stands above its level at the foot at each of them [m].
    """
    root = tables.conveyance[use] ** 0.375  # K^(3/8) is nearly straight in the level

    def excess(level: float) -> float:
        carried = np.array(
            [
                np.interp(level + up, tables.level[i], k)
                for up, i, k in zip(lift, use, root, strict=True)
            ]
        ) ** (8 / 3)
        if (carried <= 0).any():
            return -1.0
        return float(1 - np.mean((flow / carried) ** 2) / slope)

    low = float((tables.level[use, 0] - lift).max())
    high = float((tables.level[use, -1] - lift).min())
    if low >= high or excess(high) < 0:
        return float("nan")
    if excess(low) >= 0:  # over steep coarse cells the lowest row carries more than this
        return low
    return float(brentq(excess, low, high, xtol=1e-7))


def _no_slope(slope: float) -> Fault:
    """Return the fault of an unknown slope."""
    return Fault(
        "[river] slope",
        f"the slope is {slope!r}, so no level at the foot can be computed",
        "Give slope or fall in reach.toml, levels, or a DEM with the water's surface",
    )


def _too_much(flow: float) -> Fault:
    """Return the fault of a flow the foot cannot carry."""
    return Fault(
        "flows",
        f"the foot of the reach cannot carry {flow:.4g} m3/s at the river's slope",
        "Check the flow's unit, the slope and the bed at the lower end of the line",
    )
