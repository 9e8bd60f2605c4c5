"""Kriging of the soundings' residuals along and across the channel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.ground.settings import GroundSettings

BLOCK = 2_000_000
"""Most numbers of a covariance between cells and soundings held at a time: 16 MB an array."""


@dataclass(frozen=True, slots=True)
class Places:
    """Places in a channel's grid.

    Parameters
    ----------
    station, offset
        [m].
    depth
        Of the form there, below the low water [m].
    contrast
        Depth times (depth over mean depth less one) [m]: how a place gains where pools deepen.
    tilt
        What leaning outwards adds to the depth there [m].
    """

    station: FloatArray
    offset: FloatArray
    depth: FloatArray
    contrast: FloatArray
    tilt: FloatArray

    def part(self, which: slice | IntArray) -> Places:
        """Return some of the places."""
        return Places(
            self.station[which],
            self.offset[which],
            self.depth[which],
            self.contrast[which],
            self.tilt[which],
        )


@dataclass(frozen=True, slots=True)
class Doubt:
    """How the bed may differ from its form: standard deviations and ranges.

    Parameters
    ----------
    reach, section
        Shares of the form's depth: common to the reach, and of a section.
    pool, lean
        Shares of contrast and tilt, common to the reach.
    local
        About a form of the right depth [m].
    section_range
        Of the section's share, along [m].
    along, across
        Ranges of the local doubt [m].
    error
        Of a sounding [m].
    """

    reach: float
    section: float
    pool: float
    lean: float
    local: float
    section_range: float
    along: float
    across: float
    error: float

    @classmethod
    def of(cls, settings: GroundSettings, width: float) -> Doubt:
        """Return the doubt of a channel of a usual width [m]."""
        return cls(
            settings.reach_doubt,
            settings.section_doubt,
            settings.pool_doubt,
            settings.lean_doubt,
            settings.local_doubt_m,
            settings.section_range_widths * width,
            settings.range_along_widths * width,
            settings.range_across_widths * width,
            settings.sounding_error_m,
        )

    def between(self, one: Places, other: Places) -> FloatArray:
        """Return the covariance of the bed's residual [m2] between places (rows) and others.

        Residual = depth x (reach + section) + contrast x pool + tilt x lean + local, all
        independent: h h' (sr^2 + ss^2 exp(-ds/Ls)) + c c' sp^2 + t t' sl^2
        + s^2 exp(-sqrt((ds/La)^2 + (dn/Lc)^2)). So a few soundings tell, for the whole reach, by
        how much the form is too shallow, its pools too flat, its bends too upright.
        """
        return np.asarray(self.common(one) @ self.common(other).T + self.near(one, other))

    def common(self, places: Places) -> FloatArray:
        """Return what the reach's own shares are worth at places [m], shape (n, 3).

        Columns: depth, contrast and tilt, each times its standard deviation.
        """
        return np.column_stack(
            [self.reach * places.depth, self.pool * places.contrast, self.lean * places.tilt]
        )

    def near(self, one: Places, other: Places) -> FloatArray:
        """Return the covariance of what fades with distance [m2]: section and local parts."""
        apart = np.abs(one.station[:, None] - other.station)
        across = one.offset[:, None] - other.offset
        section = self.section**2 * np.exp(-apart / self.section_range)
        local = self.local**2 * np.exp(-np.hypot(apart / self.along, across / self.across))
        return np.asarray(section * one.depth[:, None] * other.depth + local)

    def variance(self, places: Places) -> FloatArray:
        """Return the variance of the bed's residual at places [m2]."""
        common = (self.common(places) ** 2).sum(axis=1)
        return np.asarray(common + self.near_variance(places))

    def near_variance(self, places: Places) -> FloatArray:
        """Return the variance of what fades with distance [m2]."""
        return np.asarray((self.section * places.depth) ** 2 + self.local**2)


@dataclass(frozen=True, slots=True)
class Noise:
    """Errors of soundings.

    Parameters
    ----------
    own
        Standard error of each, independent of all others [m], shape (n,).
    group
        Number of the set each belongs to; -1 none.
    shared
        Standard error common to all of a set [m].
    """

    own: FloatArray
    group: IntArray
    shared: float

    @classmethod
    def alike(cls, count: int, error: float) -> Noise:
        """Return the same error for each, nothing shared."""
        return cls(np.full(count, error), np.full(count, -1, dtype=np.int32), 0.0)

    def covariance(self) -> FloatArray:
        """Return the errors' covariance [m2], shape (n, n).

        Own errors stand on the diagonal; within a set `shared` squared stands everywhere, so it
        does not average away, however many depths the set has.
        """
        one_set = (self.group[:, None] == self.group) & (self.group >= 0)
        return np.asarray(np.diag(self.own**2) + one_set * self.shared**2)

    def part(self, which: IntArray) -> Noise:
        """Return the errors of some."""
        return Noise(self.own[which], self.group[which], self.shared)


@dataclass(frozen=True, slots=True)
class Kriged:
    """A kriged residual.

    Parameters
    ----------
    value
        At each place [m].
    variance
        What doubt is left there [m2].
    """

    value: FloatArray
    variance: FloatArray


def krige(
    known: Places,
    residual: FloatArray,
    wanted: Places,
    doubt: Doubt,
    noise: Noise | None = None,
) -> Kriged:
    """Return simple kriging of the bed's residuals, mean zero.

    Simple and not ordinary kriging, so that without soundings near the prior bed stands; what
    soundings tell of the whole reach enters by the covariance's first part. Solved with scipy's
    Cholesky: for tens to hundreds of points no kriging library earns its keep. For more,
    `neighbourhood.krige_near`.

    Parameters
    ----------
    known
        Where soundings were taken.
    residual
        Their bed less the form's [m].
    wanted
        Places asked for.
    doubt
        Covariance, and the soundings' error where `noise` is not given.
    noise
        Of the soundings.

    References
    ----------
    Matheron's simple kriging, as in any text on geostatistics (from memory).
    """
    prior = doubt.variance(wanted)
    if not known.station.size:
        return Kriged(np.zeros(prior.shape), prior)
    count = known.station.size
    errors = Noise.alike(count, doubt.error) if noise is None else noise
    factor = cho_factor(doubt.between(known, known) + errors.covariance(), lower=True)
    weight = cho_solve(factor, residual)
    value, taken = np.empty(prior.shape), np.empty(prior.shape)
    step = max(BLOCK // count, 1)
    for first in range(0, prior.size, step):
        part = slice(first, first + step)
        cross = doubt.between(wanted.part(part), known)
        value[part] = cross @ weight
        # Only the diagonal of C K^-1 C^T: the whole of it is cells by cells.
        taken[part] = (cross * cho_solve(factor, cross.T).T).sum(axis=1)
    return Kriged(value, np.maximum(prior - taken, 0.0))
