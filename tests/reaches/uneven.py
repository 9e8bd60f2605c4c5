"""Unevenness that no form of a river bed foresees: gravel's bumps and long, low swells."""

from __future__ import annotations

import numpy as np

from scripts.sample.shapes import wavy_ground

ALONG, ACROSS = 60.0, 10.0
"""How far the swells stay alike along and across the river [m]; our choice."""

SWELL_M, BUMPS_M = 0.15, 0.04
"""Standard deviation of swells and bumps [m]; bumps of gravel have 0.02 to 0.08 (our choice)."""


def uneven(
    x: np.ndarray, y: np.ndarray, station: np.ndarray, offset: np.ndarray, seed: int
) -> np.ndarray:
    """Return swells and bumps to add to a bed [m]: the same at any cell size.

    Notes
    -----
    Waves of one length L in all directions are alike by J0(2 pi r / L) at a distance r, which is
    1/e at r = 0.28 L: so the swells' waves are about 36 m long across, and 216 m along.
    """
    longest, shortest = 5.4 * ACROSS, 2.4 * ACROSS
    swells = wavy_ground(
        station * (ACROSS / ALONG), offset, longest=longest, shortest=shortest, seed=seed
    )
    bumps = wavy_ground(x, y, longest=9.0, shortest=2.5, seed=seed + 1)
    return np.asarray(SWELL_M * swells + BUMPS_M * bumps)


def held_level(thread: np.ndarray) -> np.ndarray:
    """Return the level to which each place is held by what lies below [m]; downstream order."""
    return np.asarray(np.maximum.accumulate(thread[::-1])[::-1])
