"""Smoothing of values along a channel that keeps both ends."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from reachmap.base.arrays import FloatArray


def smoothed_along(values: FloatArray, sigma: float) -> FloatArray:
    """Return values smoothed by a Gaussian of `sigma` samples; both ends, and a slope, stay.

    The values run on beyond each end turned half round about it, so a straight line stays itself.
    """
    pad = min(int(4 * sigma) + 1, len(values) - 1)
    head = 2 * values[0] - values[pad:0:-1]
    foot = 2 * values[-1] - values[-2 : -pad - 2 : -1]
    full = gaussian_filter1d(np.r_[head, values, foot], sigma, mode="nearest")
    return np.asarray(full[pad : pad + len(values)])


def falling(level: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the profile nearest to `level` (least squares) that never rises downstream."""
    from scipy.optimize import isotonic_regression  # slow to load; many drawings never need it

    return np.asarray(isotonic_regression(level, weights=weight, increasing=False).x)
