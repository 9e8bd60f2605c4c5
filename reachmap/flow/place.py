"""Place of a discharge among solved ones, and which of them it is interpolated from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray

NEIGHBOURS = 4
"""Solved flows that level and velocity are interpolated over: a cubic in ln Q. With two, depth was
14 mm rms and speed 2.1 cm/s from the engine's own answer on the sample, with four 1-7 mm and
0.8-2 cm/s (leaving one solved flow out; our measurement)."""

SAME_FLOW = 1e-6
"""Two discharges this near, as a share, are one; our choice: rounding of units."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a discharge lies among solved ones.

    Parameters
    ----------
    low, high
        Indices of the solved flows next to it; the same where it is one of them.
    share
        How far from `low` to `high` it lies in ln Q, 0 to 1.
    """

    low: int
    high: int
    share: float

    @property
    def solved(self) -> bool:
        """Return whether the discharge is one of the solved ones."""
        return self.low == self.high


def rising_flows(flows: Sequence[float]) -> FloatArray:
    """Return discharges [m3/s] as an array.

    Raises
    ------
    ValueError
        If there are none, or they are not positive and rising.
    """
    wanted = np.asarray(flows, dtype=np.float64)
    if wanted.size == 0 or not (wanted > 0).all() or (np.diff(wanted) <= 0).any():
        msg = f"flows are {list(flows)!r}, want positive and rising m3/s"
        raise ValueError(msg)
    return wanted


def place_of(flow: float, flows: Sequence[float] | FloatArray) -> Place:
    """Return where a discharge lies among solved ones.

    Parameters
    ----------
    flow
        Discharge [m3/s].
    flows
        Solved discharges [m3/s], rising.

    Raises
    ------
    ValueError
        If it lies outside their range; nothing is extrapolated.
    """
    solved = np.asarray(flows, dtype=np.float64)
    same = np.flatnonzero(np.isclose(solved, flow, rtol=SAME_FLOW, atol=0.0))
    if same.size:
        return Place(int(same[0]), int(same[0]), 0.0)
    if not solved[0] < flow < solved[-1]:
        msg = f"flow is {flow:g} m3/s, wants {solved[0]:g} to {solved[-1]:g} m3/s"
        raise ValueError(msg)
    high = int(np.searchsorted(solved, flow))
    low = high - 1
    share = math.log(flow / solved[low]) / math.log(solved[high] / solved[low])
    return Place(low, high, share)


def used_for(place: Place, count: int) -> list[int]:
    """Return which of `count` solved flows serve: up to four, shifted inward at the ends."""
    first = min(max(place.low - 1, 0), max(count - NEIGHBOURS, 0))
    return list(range(first, min(first + NEIGHBOURS, count)))
