"""Limits that a fitted rating's figures may stand at, and when a fit is of no use."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import FloatArray

WORST_SCATTER = 0.5
"""Standard deviation of ln Q about a fit that is still of use. Our choice, 0.3-0.7: at 0.5 one
reading in three lies more than two thirds off."""

NEAR = 1e-4
"""A figure this near to its limit, as a share of what it may be, stands at it."""


class Figure(StrEnum):
    """A figure of a power law Q = a (h - e)^b."""

    POWER = "exponent"
    OFFSET = "offset"


@dataclass(frozen=True, slots=True)
class AtLimit:
    """A figure of a fit that stands at the limit it was allowed.

    Parameters
    ----------
    segment
        Number of its segment, from 0 upwards.
    figure
        Which.
    high
        Whether at its upper limit.
    value
        The limit: an exponent [1] or an offset [m].
    """

    segment: int
    figure: Figure
    high: bool
    value: float


def limits_met(figures: FloatArray, low: FloatArray, high: FloatArray) -> tuple[AtLimit, ...]:
    """Return which figures stand at a limit: ln a, then b and e of each segment.

    ln a is left out: its limits only keep the search finite and mean nothing.
    """
    at_low, at_high = (np.abs(figures - limit) < NEAR * (high - low) for limit in (low, high))
    return tuple(
        AtLimit(
            (number - 1) // 2,
            Figure.POWER if number % 2 else Figure.OFFSET,
            bool(at_high[number]),
            float(figures[number]),
        )
        for number in range(1, figures.size)
        if at_low[number] or at_high[number]
    )
