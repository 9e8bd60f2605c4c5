"""Forms that river beds are made of: sections, long profiles, bars, rough ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter

FloatArray = NDArray[np.float64]


def section_depth(across: FloatArray, deepest: FloatArray, fullness: FloatArray) -> FloatArray:
    """Return depth over greatest depth across a channel, 0 outside it.

    Parameters
    ----------
    across
        Share of the width, 0 at the left bank, 1 at the right.
    deepest
        Share of the width at which it is deepest, 0.05 to 0.95.
    fullness
        2 a parabola, more a flatter floor.

    Notes
    -----
    Deutsch and Wang (1996), Mathematical Geology 28:857 (from memory), 4 X (1 - X) with X = x^b and
    b = -ln 2 / ln a, which is 1 - (2 X - 1)^2; the square is freed here for flat riffles.
    """
    x = np.clip(across, 0.0, 1.0)
    to_right = deepest > 0.5
    x, a = np.where(to_right, 1 - x, x), np.where(to_right, 1 - deepest, deepest)
    warped = x ** (-np.log(2.0) / np.log(np.clip(a, 0.05, 0.5)))
    return np.asarray(1 - np.abs(2 * warped - 1) ** fullness)


@dataclass(frozen=True, slots=True)
class Crest:
    """A riffle's crest: station and height [m], and the residual depth of the pool above it [m]."""

    station: float
    height: float
    pool: float


UNIT = ((0.03, 0.0, 0.0), (0.26, 1.0, -0.12), (0.40, 1.0, 0.62), (0.57, 1.0, 1.0),
        (0.70, 1.0, 0.86), (0.83, 1.0, 0.38), (0.94, 1.0, 0.07))  # fmt: skip
"""From crest to crest: share of the way, share of the fall done, share of the pool's depth.

A steep face, a run into the pool, a long tailout up to the lip. Our own shape."""


def pool_riffle_profile(crests: Sequence[Crest], station: FloatArray) -> FloatArray:
    """Return the height of the deepest line along the river [m]."""
    at, height = [crests[0].station], [crests[0].height]
    for above, below in pairwise(crests):
        for share, fall, deep in UNIT:
            at.append(above.station + share * (below.station - above.station))
            base = above.height + fall * (below.height - above.height)
            height.append(base - deep * below.pool)
        at.append(below.station)
        height.append(below.height)
    return np.asarray(PchipInterpolator(at, height, extrapolate=True)(station))


def eased(value: FloatArray, low: FloatArray | float, high: FloatArray | float) -> FloatArray:
    """Return 0 below `low`, 1 above `high`, a smooth step between."""
    share = np.clip((value - low) / (high - low), 0.0, 1.0)
    return np.asarray(share * share * (3 - 2 * share))


def window(value: FloatArray, low: float, high: float, ease: float) -> FloatArray:
    """Return 1 between `low` and `high`, 0 beyond them by `ease`, smooth between."""
    rising = eased(value, low - ease, low)
    return np.asarray(rising * (1 - eased(value, high, high + ease)))


def knots(station: FloatArray, *pairs: tuple[float, float]) -> FloatArray:
    """Return a value that runs smoothly through (station, value) pairs, constant past them."""
    at, value = zip(*pairs, strict=True)
    held = np.clip(station, at[0], at[-1])
    return np.asarray(PchipInterpolator(at, value)(held))


def rough_ground(shape: tuple[int, int], scale: float, seed: int) -> FloatArray:
    """Return noise of standard deviation 1 whose lumps are about `scale` cells wide."""
    raw = np.random.default_rng(seed).standard_normal(shape)
    soft = gaussian_filter(raw, scale / 2, mode="reflect") if scale > 0 else raw
    return np.asarray(soft / soft.std())


def wavy_ground(
    x: FloatArray, y: FloatArray, *, longest: float, shortest: float, seed: int
) -> FloatArray:
    """Return noise of standard deviation 1 as a sum of plane waves: the same at any cell size.

    Parameters
    ----------
    x, y
        Places [m].
    longest, shortest
        Lengths of the waves [m].
    seed
        Of the waves' directions, lengths and phases.
    """
    rng = np.random.default_rng(seed)
    count = 48
    length = np.exp(rng.uniform(np.log(shortest), np.log(longest), count))
    heading, phase = rng.uniform(0, 2 * np.pi, (2, count))
    total = np.zeros(np.shape(x))
    for one, angle, shift in zip(length, heading, phase, strict=True):
        total += np.sin(2 * np.pi * (x * np.cos(angle) + y * np.sin(angle)) / one + shift)
    return np.asarray(total / np.sqrt(count / 2))
