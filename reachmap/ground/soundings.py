"""Kriging of the soundings' residuals along and across the channel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from reachmap.base.arrays import FloatArray
from reachmap.ground.settings import GroundSettings

BLOCK = 20_000
"""Cells kriged at a time: bounds the memory at 20,000 x soundings."""


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

    def part(self, which: slice) -> Places:
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
        apart = np.abs(one.station[:, None] - other.station)
        across = one.offset[:, None] - other.offset
        common = self.reach**2 + self.section**2 * np.exp(-apart / self.section_range)
        local = self.local**2 * np.exp(-np.hypot(apart / self.along, across / self.across))
        total = common * one.depth[:, None] * other.depth + local
        total += self.pool**2 * one.contrast[:, None] * other.contrast
        total += self.lean**2 * one.tilt[:, None] * other.tilt
        return np.asarray(total)

    def variance(self, places: Places) -> FloatArray:
        """Return the variance of the bed's residual at places [m2]."""
        of_depth = (self.reach**2 + self.section**2) * places.depth**2
        of_shape = (self.pool * places.contrast) ** 2 + (self.lean * places.tilt) ** 2
        return of_depth + of_shape + self.local**2


@dataclass(frozen=True, slots=True)
class Kriged:
    """A kriged residual.

    Parameters
    ----------
    value
        At each place [m].
    variance
        What doubt is left there [m2].
    misfit
        Squares of the soundings' residuals by their covariance: about their number where the doubt
        is as large as they show, r^T K^-1 r.
    """

    value: FloatArray
    variance: FloatArray
    misfit: float


def krige(known: Places, residual: FloatArray, wanted: Places, doubt: Doubt) -> Kriged:
    """Return simple kriging of the bed's residuals, mean zero.

    Simple and not ordinary kriging, so that without soundings near the prior bed stands; what
    soundings tell of the whole reach enters by the covariance's first part. Solved with scipy's
    Cholesky: for tens to hundreds of points no kriging library earns its keep.

    Parameters
    ----------
    known
        Where soundings were taken.
    residual
        Their bed less the form's [m].
    wanted
        Places asked for.
    doubt
        Covariance and the soundings' error.

    References
    ----------
    Matheron's simple kriging, as in any text on geostatistics (from memory).
    """
    prior = doubt.variance(wanted)
    if not known.station.size:
        return Kriged(np.zeros(prior.shape), prior, 0.0)
    matrix = doubt.between(known, known) + np.eye(known.station.size) * doubt.error**2
    factor = cho_factor(matrix, lower=True)
    weight = cho_solve(factor, residual)
    value, taken = np.empty(prior.shape), np.empty(prior.shape)
    for first in range(0, prior.size, BLOCK):
        part = slice(first, first + BLOCK)
        cross = doubt.between(wanted.part(part), known)
        value[part] = cross @ weight
        # Only the diagonal of C K^-1 C^T: the whole of it is cells by cells.
        taken[part] = (cross * cho_solve(factor, cross.T).T).sum(axis=1)
    return Kriged(value, np.maximum(prior - taken, 0.0), float(residual @ weight))
