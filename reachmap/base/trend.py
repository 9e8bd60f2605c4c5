"""Robust slope of heights along a line."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import FloatArray


def median_slope(station: FloatArray, height: FloatArray) -> float:
    """Return the rise of heights along a line [m/m], robust to outliers; 0 where it is unknown.

    Notes
    -----
    The median of the slopes between all pairs [1]_. Written out here: the library that has it
    takes twice as long to load as a whole check of a drawing.

    References
    ----------
    .. [1] Sen (1968), Estimates of the regression coefficient based on Kendall's tau; from memory.
       Held to scipy.stats.theilslopes by a test.
    """
    good = np.isfinite(height)
    along, up = station[good], height[good]
    run = along[:, None] - along
    if not (run > 0).any():
        return 0.0
    return float(np.median((up[:, None] - up)[run > 0] / run[run > 0]))
