"""Clarity at any flow of a day, from the clarity notes: a table over flow, bounded beyond them."""

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
    """Clarity [m] at increasing flows [m3/s], on a rise and on a fall; NaN unknown."""

    flow: FloatArray
    rising: FloatArray
    falling: FloatArray

    def at(self, flow: FloatArray, rising: BoolArray) -> FloatArray:
        """Return the clarity at flows, any shape [m]; NaN unknown."""
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
    """Return the clarity on a day at any flow.

    Parameters
    ----------
    model
        Fitted to the clarity notes.
    flows
        Lowest and highest flow of the table [m3/s], > 0.
    when
        The time, UTC.
    since
        When the present fall began, UTC; a rise would be a new one.

    Notes
    -----
    Beyond the flows with a note the nearest known value is held: higher water is no clearer than
    that, lower water no more coloured. A rise without notes is taken as clear as the fall, and
    never clearer.
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
    """Return values with gaps interpolated and the ends held at the nearest known value."""
    known = np.flatnonzero(np.isfinite(values))
    if not known.size:
        return values
    return np.asarray(np.interp(np.arange(values.size), known, values[known]))
