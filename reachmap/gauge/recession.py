"""Recession law: how the flow falls without rain, fitted to the record, and its uncertainty.

A recession is fast at first and slows down: a single exponential does not fit all of it. In the law
used here the share lost a day depends on the flow itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.series import DAY, HOUR, Series, flow_on, hours_between, spacing_hours

FEWEST_STEPS = 8
"""Fewest one-day falls for a law; our choice, 6-20."""

GRID_HOURS = 6
"""Spacing of the time grid on which falls are found [h]; our choice, 1-12. A divisor of 24."""

NOISE = 0.01
"""A smaller relative rise in a grid step is the gauge's noise, not rain; our choice,
0.005-0.02: ratings are rounded to about this."""

LEADS = 10
"""Number of days ahead for which the law is tested on the record."""

SURE = 0.8
"""Share of the record's falls that lie within the band; our choice, 0.7-0.9."""

FEW_STEPS_WIDEN = 4.0
"""The band is widened by this share over the square root of the number of falls; our choice, 2-6:
a law fits the falls it was fitted to better than later ones. With 4 a real daily record not used
in a law of 14 falls lay within its band; with 3 two of its five days fell just outside."""

FULL_YEAR_DAYS = 300
"""Length of a record that is taken to include low flow [d]; our choice, 250-400."""

RISE_SHARE = 1.25
"""Ratio of flows from which a rise is reported; our choice, 1.1-1.5."""


@dataclass(frozen=True, slots=True)
class RecessionLaw:
    """Recession law -d ln Q/dt = rate (Q / middle)^power, with its errors on the record.

    Parameters
    ----------
    rate
        Rate of decrease at the flow `middle` [1/d], > 0.
    power
        Exponent: how much faster a high flow falls; 0 for a single exponential.
    middle, lowest, highest
        Geometric mean and range of the flows it was fitted to [m3/s].
    steps
        Number of one-day falls it was fitted to.
    low, high
        Bounds of ln(observed / forecast) after 1, 2, ... days that hold `SURE` of the record's
        falls, shape (LEADS,).
    rose, tried
        After 1, 2, ... days: in how many of the `tried` falls of the record the flow had risen by a
        quarter by then, shape (LEADS,).
    floor
        Lower limit of forecast flows [m3/s]: the lowest flow of a record of about a year or more,
        zero for a shorter one, which may not include low flow.
    """

    rate: float
    power: float
    middle: float
    lowest: float
    highest: float
    steps: int
    low: FloatArray
    high: FloatArray
    rose: FloatArray
    tried: FloatArray
    floor: float = 0.0


def recession_flow(
    law: RecessionLaw, flow: float | FloatArray, days: float | FloatArray
) -> FloatArray:
    """Return the flow after a number of days without rain [m3/s], in the broadcast shape.

    Parameters
    ----------
    law
        The law.
    flow
        Flow at the start [m3/s], > 0.
    days
        Time since then [d], >= 0.

    Notes
    -----
    The closed form of -dQ/dt = a Q^b, b = power + 1: Q = Q0 (1 + p r t)^(-1/p) with r the share
    lost a day at Q0; Q0 exp(-r t) where p is 0. The law is that of Brutsaert and Nieber (1977),
    Water Resources Research 13:637 (from memory).
    """
    lost = law.rate * (flow / law.middle) ** law.power
    if law.power < 1e-6:
        return np.asarray(flow * np.exp(-lost * days))
    return np.asarray(flow * (1 + law.power * lost * days) ** (-1 / law.power))


def fit_recession(record: Series) -> RecessionLaw | None:
    """Return the recession law fitted to a record; None where it holds too few falls.

    Parameters
    ----------
    record
        The river's flow, readings or means of days.

    Notes
    -----
    Every fall that lasts a day gives one pair of flows; rate and power minimise the error of the
    second flow in logarithms (soft L1 loss, robust against single outliers).
    """
    step = step_hours(record)
    if step is None:
        return None
    flow = on_even_grid(record, step)
    per_day = 24 // step
    falls = falling(flow, per_day)
    start = np.flatnonzero(falls)
    if start.size < FEWEST_STEPS:
        return None
    before, after = flow[start], flow[start + per_day]
    middle = float(np.exp(np.log(before).mean()))
    rate, power = fit_rate(before, after, middle)
    none = np.zeros(LEADS)
    low, high = float(after.min()), float(before.max())
    count, floor = int(start.size), floor_of(record.known)
    law = RecessionLaw(rate, power, middle, low, high, count, none, none, none, none, floor)
    return _with_errors(law, flow, falls, per_day)


def floor_of(known: Series) -> float:
    """Return the lowest flow of a long record [m3/s], zero of a short one."""
    long = known.times[-1] - known.times[0] >= FULL_YEAR_DAYS * DAY
    return float(known.flow.min()) if long else 0.0


def step_hours(record: Series) -> int | None:
    """Return the spacing of the time grid [h]; None where the record is too short or too coarse."""
    usual = spacing_hours(record.known)
    if not usual <= 25.0:  # a day, and one hour more at the end of summer time
        return None
    return GRID_HOURS if usual <= GRID_HOURS else 24


def on_even_grid(record: Series, step: int) -> FloatArray:
    """Return the record interpolated on an even time grid [m3/s], NaN in its gaps."""
    known = record.known
    times = hours_between(known.times[0] + HOUR - np.timedelta64(1, "s"), known.times[-1])[::step]
    return flow_on(record, times)


def falling(flow: FloatArray, per_day: int) -> BoolArray:
    """Return whether the river falls for the whole day after each grid point, shape (n,).

    False for the last day's points, since the day after them is not on record. A grid step may
    rise by `NOISE`, the day as a whole must fall.
    """
    count = flow.size - per_day
    if count <= 0:
        return np.zeros(flow.shape, dtype=bool)
    with np.errstate(invalid="ignore"):
        steps = flow[1:] <= flow[:-1] * (1 + NOISE)  # False next to a gap
        whole = np.lib.stride_tricks.sliding_window_view(steps, per_day).all(axis=1)
        down = flow[per_day:] < flow[:count]
    return np.asarray(np.r_[whole & down, np.zeros(per_day, dtype=bool)])


def fit_rate(before: FloatArray, after: FloatArray, middle: float) -> tuple[float, float]:
    """Return the rate [1/d] and power that fit the flow one day later best."""
    # The rate is fitted as its logarithm, so it stays above 0; `predicted` is ln of the closed
    # form of `recession_flow` after one day.
    seen = np.log(after / before)
    high = np.log(before / middle)

    def errors(values: FloatArray) -> FloatArray:
        rate, power = np.exp(values[0]), values[1]
        lost = rate * np.exp(power * high)
        predicted = -lost if power < 1e-6 else -np.log1p(power * lost) / power
        return np.asarray(predicted - seen)

    begin = np.array([np.log(max(float(np.median(-seen)), 1e-4)), 0.5])
    found = least_squares(
        errors, begin, bounds=([np.log(1e-5), 0.0], [np.log(10.0), 4.0]), loss="soft_l1",
        f_scale=0.05,
    )  # fmt: skip
    return float(np.exp(found.x[0])), float(found.x[1])


def _with_errors(
    law: RecessionLaw, flow: FloatArray, falls: BoolArray, per_day: int
) -> RecessionLaw:
    """Return the law with its errors on the record for each day ahead."""
    low, high, rose, tried = (np.zeros(LEADS) for _ in range(4))
    dry = falls.copy()
    # Selected by their past only: the chance of a new rise is counted over falls that have begun,
    # not over falls that are known to continue.
    began = np.r_[np.zeros(per_day, dtype=bool), falls[:-per_day]]  # it had fallen for a day
    for lead in range(1, LEADS + 1):
        ahead, count = lead * per_day, max(flow.size - lead * per_day, 0)
        start = np.flatnonzero(dry[:count])
        errors = np.log(flow[start + ahead] / recession_flow(law, flow[start], lead))
        low[lead - 1], high[lead - 1] = _bounds(errors, low, high, lead)
        begun = np.flatnonzero(began[:count])
        if begun.size:
            top = np.lib.stride_tricks.sliding_window_view(flow, ahead + 1)[begun].max(axis=1)
            sure = np.isfinite(top)
            tried[lead - 1] = int(sure.sum())
            rose[lead - 1] = int((top[sure] >= RISE_SHARE * flow[begun][sure]).sum())
        # Keep the points after which it fell for `lead` days and one more.
        later = np.zeros(falls.shape, dtype=bool)
        later[:count] = falls[falls.size - count :]
        dry &= later
    wider = 1 + FEW_STEPS_WIDEN / np.sqrt(law.steps)
    return replace(law, low=low * wider, high=high * wider, rose=rose, tried=tried)


def _bounds(
    errors: FloatArray, low: FloatArray, high: FloatArray, lead: int
) -> tuple[float, float]:
    """Return the bounds for a day ahead; never narrower than those of the day before.

    With fewer than `FEWEST_STEPS` falls of that length the band of the day before grows in
    proportion to time; on the first day it is +-10 % (our choice, 0.05-0.2).
    """
    tail = (1 - SURE) / 2
    below, above = (low[lead - 2], high[lead - 2]) if lead > 1 else (0.0, 0.0)
    if errors.size >= FEWEST_STEPS:
        bottom, top = np.quantile(errors, [tail, 1 - tail])
        return min(float(bottom), below), max(float(top), above)
    if lead == 1:
        return -0.1, 0.1
    grow = lead / (lead - 1)
    return below * grow, above * grow
