"""Soundings: their residuals spread along and across the channel by kriging."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from reachmap.base.shapes import F8
from reachmap.ground.settings import GroundSettings

BLOCK = 20_000
"""Cells kriged at a time: bounds the memory at 20,000 x soundings."""


@dataclass(frozen=True, slots=True)
class Kriged:
    """A kriged residual.

    Parameters
    ----------
    value
        At each place, in the residuals' unit.
    nearness
        Share of the prior variance the soundings take away, 0 to 1.
    """

    value: F8
    nearness: F8


def covariance(station: F8, offset: F8, ranges: tuple[F8 | float, F8 | float]) -> F8:
    """Return exp(-sqrt((ds/along)^2 + (dn/across)^2)) for separations [m]."""
    along, across = ranges
    return np.asarray(np.exp(-np.hypot(station / along, offset / across)))


def krige(
    known: tuple[F8, F8, F8], wanted: tuple[F8, F8], width: float, settings: GroundSettings,
    spread: float,
) -> Kriged:  # fmt: skip
    """Return simple kriging of residuals in (station, offset), mean zero.

    Exponential covariance with ranges in widths; the soundings' own error is the nugget. Simple
    and not ordinary kriging, so that far from every sounding the prior bed stands. Solved with
    scipy's Cholesky: for tens to hundreds of points no kriging library earns its keep.

    Parameters
    ----------
    known
        Station, offset, residual of the soundings.
    wanted
        Station, offset of the places asked for.
    width
        Usual width of the channel [m].
    settings
        Of the stage.
    spread
        Standard deviation of the residual about the prior, in its own unit.

    References
    ----------
    Matheron's simple kriging, as in any text on geostatistics (from memory).
    """
    station, offset, residual = known
    at, off = wanted
    if not station.size:
        return Kriged(np.zeros(at.shape), np.zeros(at.shape))
    ranges = (settings.range_along_widths * width, settings.range_across_widths * width)
    nugget = (settings.sounding_error_m / max(spread, settings.sounding_error_m)) ** 2
    matrix = covariance(station[:, None] - station, offset[:, None] - offset, ranges)
    factor = cho_factor(matrix + np.eye(len(station)) * nugget, lower=True)
    weight = cho_solve(factor, residual)
    value, nearness = np.empty(at.shape), np.empty(at.shape)
    for first in range(0, at.size, BLOCK):
        part = slice(first, first + BLOCK)
        cross = covariance(at[part, None] - station, off[part, None] - offset, ranges)
        value[part] = cross @ weight
        nearness[part] = (cross * cho_solve(factor, cross.T).T).sum(axis=1)
    return Kriged(value, np.clip(nearness, 0, 1))
