"""Hillshade: the shaded relief of maps and of the drawing page."""

from __future__ import annotations

import math

import numpy as np

from reachmap.base.arrays import FloatArray

LIGHT_FROM_DEG, LIGHT_UP_DEG, STEEPER = 315.0, 42.0, 2.0
"""Bearing and height of the lamp, how much the ground is raised (common practice, our choice)."""


def shade(bed: FloatArray, cell: float) -> FloatArray:
    """Return how bright each cell is under one lamp, 0 to 1; NaN where the ground is not known.

    Parameters
    ----------
    bed
        Ground height [m], shape (rows, columns), rows running south; NaN where unknown.
    cell
        Side of a cell [m].

    Notes
    -----
    Lambert's cosine law: the brightness is the cosine between the lamp and the ground's normal.
    """
    down, right = np.gradient(bed * STEEPER, cell)
    east, north = -right, down
    bearing, height = math.radians(LIGHT_FROM_DEG), math.radians(LIGHT_UP_DEG)
    lamp = (
        math.sin(bearing) * math.cos(height),
        math.cos(bearing) * math.cos(height),
        math.sin(height),
    )
    bright = (east * lamp[0] + north * lamp[1] + lamp[2]) / np.sqrt(1 + east**2 + north**2)
    return np.asarray(np.clip(bright, 0, 1), dtype=np.float64)
