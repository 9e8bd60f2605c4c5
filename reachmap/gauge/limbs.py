"""How a river falls after rain, learned from its own record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Recession:
    """An exponential fall Q = Q0 k^t.

    Parameters
    ----------
    per_day
        k, the share of the flow left after a day, 0 to 1.
    scatter
        Standard deviation of ln Q about the fit.
    readings
        How many readings the fit rests on.
    """

    per_day: float
    scatter: float
    readings: int

    @property
    def half_life_days(self) -> float:
        """Return the days in which the flow halves: ln 0.5 / ln k; infinite where k is 1."""
        return float(np.log(0.5) / np.log(self.per_day)) if self.per_day < 1 else np.inf


def fit_recession(days: FloatArray, flow: FloatArray) -> Recession:
    """Return the exponential that fits a falling limb best in logarithms.

    Parameters
    ----------
    days
        Times [d], shape (n,), rising.
    flow
        Discharge [m3/s], shape (n,), > 0; NaN readings are left out.

    Raises
    ------
    ValueError
        If fewer than three readings are left, or the limb rises.

    Notes
    -----
    Least squares on ln Q = ln Q0 + t ln k. One exponential seldom holds for a whole fall: the early
    limb is faster (see docs/sources.md), so fit limbs apart.
    """
    known = np.isfinite(flow) & (flow > 0)
    if known.sum() < 3:
        msg = "a recession wants at least three readings above zero"
        raise ValueError(msg)
    slope, start = np.polyfit(days[known], np.log(flow[known]), 1)
    if slope > 0:
        msg = "the flow rises over these readings: no recession"
        raise ValueError(msg)
    misses = np.log(flow[known]) - (start + slope * days[known])
    spread = float(np.sqrt((misses**2).sum() / max(known.sum() - 2, 1)))
    return Recession(float(np.exp(slope)), spread, int(known.sum()))


def fallen_flow(flow: float, per_day: float, days: FloatArray) -> FloatArray:
    """Return the flow after some days of falling: Q0 k^t [m3/s], shape of `days`."""
    return np.asarray(flow * per_day**days)


def falling_limbs(flow: FloatArray, *, least: int = 4) -> list[slice]:
    """Return the stretches of a record in which no reading is above the one before.

    Parameters
    ----------
    flow
        Discharge [m3/s], shape (n,), evenly spaced; NaN ends a stretch.
    least
        Fewest readings of a stretch worth returning.
    """
    falls = np.zeros(flow.shape, dtype=bool)
    falls[1:] = np.diff(flow) <= 0  # comparisons with NaN are False, so a gap ends the limb
    limbs, begin = [], None
    for index, falling in enumerate([*falls[1:].tolist(), False], start=1):
        if falling and begin is None:
            begin = index - 1
        elif not falling and begin is not None:
            if index - begin >= least:
                limbs.append(slice(begin, index))
            begin = None
    return limbs
