"""Parameters of a fitted rating that ended at a limit, and the largest usable scatter."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import FloatArray

WORST_SCATTER = 0.5
"""Largest standard deviation of ln Q about a usable fit. Our choice, 0.3-0.7: at 0.5 one
reading in three lies more than two thirds off."""

NEAR = 1e-4
"""Distance from a limit that counts as at it, as a share of the parameter's range."""


class Figure(StrEnum):
    """A parameter of a power law Q = a (h - e)^b."""

    POWER = "exponent"
    OFFSET = "offset"


@dataclass(frozen=True, slots=True)
class AtLimit:
    """A parameter of a fit that ended at a limit.

    Parameters
    ----------
    segment
        Number of its segment, from 0.
    figure
        Which parameter.
    high
        Whether it is at its upper limit.
    value
        The limit: an exponent [1] or an offset [m].
    """

    segment: int
    figure: Figure
    high: bool
    value: float


def limits_met(figures: FloatArray, low: FloatArray, high: FloatArray) -> tuple[AtLimit, ...]:
    """Return the parameters at a limit; `figures` are ln a, then b and e of each segment.

    ln a is left out: its limits only keep the search finite.
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
