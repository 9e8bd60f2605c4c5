"""Error of the flow model itself, which no ensemble of beds and roughnesses shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from reachmap.base.arrays import FloatArray

LEAST = 1e-9
"""Standard deviations are never taken smaller: a chance without error is 0 or 1."""


@dataclass(frozen=True, slots=True)
class ModelError:
    """Standard deviations of a depth-averaged model's depth and speed about what is measured.

    Parameters
    ----------
    depth_m
        Of the depth [m], >= 0: the level's error and unevenness of the bed below the size of the
        cells.
    speed_m_s, speed_share
        Of the speed: a constant [m/s] and a share of it, added as squares, both >= 0.

    Notes
    -----
    Independent of the ensemble's spread and normal. Figures and how they were found: see
    docs/uncertainty.md.
    """

    depth_m: float = 0.08
    speed_m_s: float = 0.08
    speed_share: float = 0.2

    def __post_init__(self) -> None:
        """Refuse negative deviations."""
        wrong = [name for name in self.__slots__ if not getattr(self, name) >= 0]
        if wrong:
            msg = f"{', '.join(wrong)} must be >= 0"
            raise ValueError(msg)

    def of_speed(self, speed: FloatArray) -> FloatArray:
        """Return the standard deviation at speeds [m/s], in their shape; NaN stays NaN."""
        return np.hypot(self.speed_m_s, self.speed_share * speed)


def chance_between(
    expected: FloatArray,
    low: FloatArray | float,
    high: FloatArray | float,
    error: FloatArray | float,
) -> FloatArray:
    """Return the chance that a normal value lies between two bounds, 0 to 1.

    Parameters
    ----------
    expected
        Mean; the arguments broadcast together, NaN stays NaN.
    low, high
        Bounds in the same unit; infinite where there is none.
    error
        Standard deviation, >= 0.
    """
    size = np.maximum(error, LEAST)
    return np.asarray(ndtr((high - expected) / size) - ndtr((low - expected) / size))
