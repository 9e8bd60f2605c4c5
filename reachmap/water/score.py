"""The score of a piece of swing water: a product of named factors, each 0 to 1."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from reachmap.base.arrays import FloatArray
from reachmap.base.words import Lack
from reachmap.markup.model import SeasonLimits
from reachmap.water.settings import ScoreSettings


@dataclass(frozen=True, slots=True)
class Factors:
    """The factors of a score."""

    depth: float
    speed: float
    even: float
    size: float
    reach: float

    @property
    def score(self) -> float:
        """Return 0 to 100: the product."""
        return 100.0 * self.depth * self.speed * self.even * self.size * self.reach

    @property
    def weakest(self) -> Lack:
        """Return what holds the score down most."""
        return LACKS[min(LACKS, key=lambda name: float(getattr(self, name)))]


LACKS: Mapping[str, Lack] = {
    "depth": Lack.DEPTH,
    "speed": Lack.SPEED,
    "even": Lack.UNEVEN,
    "size": Lack.SMALL,
    "reach": Lack.REACH,
}
"""What a small factor of a score means."""


def suitability(values: FloatArray, low: float, high: float, slope_share: float) -> FloatArray:
    """Return how well values suit a range: 1 in its middle, 0.5 at its ends, 0 at a slope beyond.

    Straight between; the slopes are `slope_share` of the range wide. NaN stays NaN.
    """
    slope = max(slope_share * (high - low), 1e-9)
    values = np.asarray(values, dtype=np.float64)
    rise = 0.5 + 0.5 * (values - low) / slope
    fall = 0.5 + 0.5 * (high - values) / slope
    return np.clip(np.minimum(rise, fall), 0.0, 1.0)


def evenness(speed: FloatArray, station: FloatArray, uneven_high: float, bin_m: float) -> float:
    """Return 1 where the speed stays the same down the zone, 0 where it varies by `uneven_high`.

    Half of the difference between the 10 % and the 90 % quantile of the median speeds of stretches
    `bin_m` [m] long, over the median of all. Change across the zone is no fault: a swing crosses
    from quick to slow.
    """
    known = np.isfinite(speed) & np.isfinite(station)
    middle = float(np.median(speed[known])) if known.any() else 0.0
    if not middle > 0:
        return 0.0
    bins = np.floor(station[known] / bin_m).astype(np.int64)
    bins -= bins.min()
    counts = np.bincount(bins)
    whole = np.flatnonzero(counts >= 0.25 * counts.max())
    low, high = np.quantile(ndimage.median(speed[known], bins, whole), (0.1, 0.9))
    return float(np.clip(1.0 - 0.5 * (high - low) / middle / uneven_high, 0.0, 1.0))


def size_factor(length: float, width: float, settings: ScoreSettings) -> float:
    """Return the size factor of a piece, 0 to 1.

    The square root of the two shares' product, so that a piece half as long and half as wide counts
    half.
    """
    along = min(length / settings.length_full_m, 1.0)
    across = min(width / settings.width_full_m, 1.0)
    return float(np.sqrt(max(along, 0.0) * max(across, 0.0)))


def reach_factor(bank: FloatArray, cast_high: float) -> float:
    """Return the share of the water within a cast of a bank; `bank` is the distance [m]."""
    known = bank[np.isfinite(bank)]
    return float((known <= cast_high).mean()) if known.size else 0.0


@dataclass(frozen=True, slots=True)
class Piece:
    """The cells of a piece of water: depth, station, distance to a bank [m], speed [m/s]; size."""

    depth: FloatArray
    speed: FloatArray
    station: FloatArray
    bank: FloatArray
    length: float
    width: float


def factors_of(piece: Piece, limits: SeasonLimits, settings: ScoreSettings) -> Factors:
    """Return the factors of a piece of water.

    Notes
    -----
    Depth and speed count as the mean of how well the cells suit the season's limits, over the best
    for a piece that spans the whole range (four fifths with a slope of two fifths), held at 1.
    """
    slope = settings.slope_share
    best = 1.0 - 0.5 * slope
    deep = suitability(piece.depth, limits.depth_low_m, limits.depth_high_m, slope)
    quick = suitability(piece.speed, limits.speed_low_m_s, limits.speed_high_m_s, slope)
    return Factors(
        depth=min(float(np.nanmean(deep)) / best, 1.0),
        speed=min(float(np.nanmean(quick)) / best, 1.0),
        even=evenness(piece.speed, piece.station, settings.uneven_high, settings.even_bin_m),
        size=size_factor(piece.length, piece.width, settings),
        reach=reach_factor(piece.bank, settings.cast_high_m),
    )
