"""How far one sees at any flow of a day: the notes' answer as a table, with bounds beyond them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.clarity import ClarityModel, clarity_on
from reachmap.gauge.clarity_data import Limb

STEPS = 24
"""Flows of the table, evenly spaced in ln flow; our choice, 12-50."""


@dataclass(frozen=True, slots=True)
class ClearAhead:
    """Clarity [m] at rising flows [m3/s], on a rise and on a fall; NaN where nothing is known."""

    flow: FloatArray
    rising: FloatArray
    falling: FloatArray

    def at(self, flow: FloatArray, rising: BoolArray) -> FloatArray:
        """Return how far one sees at flows, any shape [m]; NaN where nothing is known."""
        across = np.log(np.where(flow > 0, flow, np.nan))
        knots = np.log(self.flow)
        up, down = (np.interp(across, knots, side) for side in (self.rising, self.falling))
        return np.where(np.isnan(across), np.nan, np.where(rising, up, down))


def clear_ahead(
    model: ClarityModel,
    flows: tuple[float, float],
    when: np.datetime64,
    since: np.datetime64,
) -> ClearAhead:
    """Return how far one sees on a day at any flow.

    Parameters
    ----------
    model
        What the notes bear.
    flows
        Lowest and highest flow asked for [m3/s], > 0.
    when
        The time asked for, UTC.
    since
        When the present fall began, UTC; a rise would be a new one.

    Notes
    -----
    Higher water than any noted is no clearer than the highest noted, lower water no dirtier than
    the lowest: the nearest known flow bounds what is beyond. A rise of which nothing is noted is no
    clearer than the fall.
    """
    low, high = flows
    grid = np.geomspace(low, max(high, low * 1.01), STEPS)
    falling, rising = (
        np.array(
            [
                clarity_on(model, flow=float(q), limb=limb, when=when, since_low=begun).metres
                for q in grid
            ]
        )
        for limb, begun in ((Limb.FALLING, since), (Limb.RISING, when))
    )
    falling, rising = _bounded(falling), _bounded(rising)
    if np.isnan(falling).all():
        falling = rising
    elif np.isnan(rising).all():
        rising = falling
    return ClearAhead(grid, np.fmin(rising, falling), falling)


def _bounded(values: FloatArray) -> FloatArray:
    """Return values with the nearest known one before and behind those that are known."""
    known = np.flatnonzero(np.isfinite(values))
    if not known.size:
        return values
    return np.asarray(np.interp(np.arange(values.size), known, values[known]))
