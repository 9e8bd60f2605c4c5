"""The law by which a river falls when no rain comes, learned from its own record, and its doubt.

A fall is quick at first and ever slower: one exponential does not hold for the whole of it. The law
taken here lets the share lost a day depend on the flow itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.series import DAY, HOUR, Series, flow_on, hours_between, spacing_hours

FEWEST_STEPS = 8
"""Falls over a day on which a law must rest at least; our choice, 6-20."""

GRID_HOURS = 6
"""Spacing of the grid on which falls are looked for [h]; our choice, 1-12. A divisor of 24."""

NOISE = 0.01
"""A rise of less than this share in a grid step is the gauge's unrest, not rain; our choice,
0.005-0.02: ratings are rounded about so."""

LEADS = 10
"""Days ahead for which the law is tried on the record."""

SURE = 0.8
"""Share of the record's own falls that lie within the band; our choice, 0.7-0.9."""

FEW_STEPS_WIDEN = 4.0
"""The band is widened by this share over the root of the falls it rests on; our choice, 2-6: a law
meets the falls it was fitted to better than those to come. With 4 a real daily record that a law
of 14 falls had not seen lay within its band; with 3 two of its five days fell just outside."""

FULL_YEAR_DAYS = 300
"""A record this long has seen the river low; our choice, 250-400."""

RISE_SHARE = 1.25
"""From this ratio on a rise is told of; our choice, 1.1-1.5."""


@dataclass(frozen=True, slots=True)
class FallLaw:
    """How a river falls: -d ln Q/dt = rate (Q / middle)^power, and how far that was off.

    Parameters
    ----------
    rate
        Share lost a day at the middle flow [1/d], > 0.
    power
        How much quicker a high flow falls; 0 for one exponential.
    middle, lowest, highest
        Geometric mean and range of the flows it was fitted to [m3/s].
    steps
        Falls over a day that it rests on.
    low, high
        ln(true / told) after 1, 2, ... days, the bounds of `SURE` of the record's falls, shape
        (LEADS,).
    rose, tried
        After 1, 2, ... days: in how many of the `tried` falls of the record the flow had risen by a
        quarter by then, shape (LEADS,).
    floor
        Below this the river is not told to fall [m3/s]: the lowest flow of a record of about a
        year or more, zero of a shorter one, which has not seen the river low.
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


def fallen(law: FallLaw, flow: float | FloatArray, days: float | FloatArray) -> FloatArray:
    """Return the flow after some days without rain [m3/s], in the broadcast shape.

    Parameters
    ----------
    law
        The law.
    flow
        At the beginning [m3/s], > 0.
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


def fit_falls(record: Series) -> FallLaw | None:
    """Return the law of a record; None where it holds too few falls.

    Parameters
    ----------
    record
        The river's flow, readings or means of days.

    Notes
    -----
    Every fall that lasts a day gives one pair of flows; rate and power are those for which the
    second flow is met best in logarithms (soft L1 loss, so that a single odd day does not rule).
    """
    step = step_hours(record)
    if step is None:
        return None
    flow = laid(record, step)
    per_day = 24 // step
    falls = falling(flow, per_day)
    start = np.flatnonzero(falls)
    if start.size < FEWEST_STEPS:
        return None
    before, after = flow[start], flow[start + per_day]
    middle = float(np.exp(np.log(before).mean()))
    rate, power = fitted(before, after, middle)
    none = np.zeros(LEADS)
    low, high = float(after.min()), float(before.max())
    count, floor = int(start.size), floor_of(record.known)
    law = FallLaw(rate, power, middle, low, high, count, none, none, none, none, floor)
    return _tried(law, flow, falls, per_day)


def floor_of(known: Series) -> float:
    """Return the lowest flow of a long record [m3/s], zero of a short one."""
    long = known.times[-1] - known.times[0] >= FULL_YEAR_DAYS * DAY
    return float(known.flow.min()) if long else 0.0


def step_hours(record: Series) -> int | None:
    """Return the spacing of the grid [h]; None where the record is too short or too coarse."""
    usual = spacing_hours(record.known)
    if not usual <= 25.0:  # a day, an hour more where summer time ends
        return None
    return GRID_HOURS if usual <= GRID_HOURS else 24


def laid(record: Series, step: int) -> FloatArray:
    """Return the record on an even grid [m3/s], NaN in its gaps."""
    known = record.known
    times = hours_between(known.times[0] + HOUR - np.timedelta64(1, "s"), known.times[-1])[::step]
    return flow_on(record, times)


def falling(flow: FloatArray, per_day: int) -> BoolArray:
    """Return from which grid points on the river falls for a whole day, shape (n,).

    The last day's points are not: what follows them is not on record. A grid step may rise by
    `NOISE`, the day as a whole must fall.
    """
    count = flow.size - per_day
    if count <= 0:
        return np.zeros(flow.shape, dtype=bool)
    with np.errstate(invalid="ignore"):
        steps = flow[1:] <= flow[:-1] * (1 + NOISE)  # False beside a gap
        whole = np.lib.stride_tricks.sliding_window_view(steps, per_day).all(axis=1)
        down = flow[per_day:] < flow[:count]
    return np.asarray(np.r_[whole & down, np.zeros(per_day, dtype=bool)])


def fitted(before: FloatArray, after: FloatArray, middle: float) -> tuple[float, float]:
    """Return rate [1/d] and power that meet the flow a day later best."""
    # The rate is fitted as its logarithm, so it stays above 0; `told` is ln of the closed form of
    # `fallen` after one day.
    seen = np.log(after / before)
    high = np.log(before / middle)

    def misses(values: FloatArray) -> FloatArray:
        rate, power = np.exp(values[0]), values[1]
        lost = rate * np.exp(power * high)
        told = -lost if power < 1e-6 else -np.log1p(power * lost) / power
        return np.asarray(told - seen)

    begin = np.array([np.log(max(float(np.median(-seen)), 1e-4)), 0.5])
    found = least_squares(
        misses, begin, bounds=([np.log(1e-5), 0.0], [np.log(10.0), 4.0]), loss="soft_l1",
        f_scale=0.05,
    )  # fmt: skip
    return float(np.exp(found.x[0])), float(found.x[1])


def _tried(law: FallLaw, flow: FloatArray, falls: BoolArray, per_day: int) -> FallLaw:
    """Return the law with how far it was off on the record, day by day ahead."""
    low, high, rose, tried = (np.zeros(LEADS) for _ in range(4))
    dry = falls.copy()
    # These falls were known to have begun but not how they end: the chance of a new rise is counted
    # over them, not over falls that are known to go on.
    began = np.r_[np.zeros(per_day, dtype=bool), falls[:-per_day]]  # it had fallen for a day
    for lead in range(1, LEADS + 1):
        ahead, count = lead * per_day, max(flow.size - lead * per_day, 0)
        start = np.flatnonzero(dry[:count])
        misses = np.log(flow[start + ahead] / fallen(law, flow[start], lead))
        low[lead - 1], high[lead - 1] = _bounds(misses, low, high, lead)
        begun = np.flatnonzero(began[:count])
        if begun.size:
            top = np.lib.stride_tricks.sliding_window_view(flow, ahead + 1)[begun].max(axis=1)
            sure = np.isfinite(top)
            tried[lead - 1] = int(sure.sum())
            rose[lead - 1] = int((top[sure] >= RISE_SHARE * flow[begun][sure]).sum())
        # Keeps the points from which it fell for `lead` days and one more.
        later = np.zeros(falls.shape, dtype=bool)
        later[:count] = falls[falls.size - count :]
        dry &= later
    wider = 1 + FEW_STEPS_WIDEN / np.sqrt(law.steps)
    return replace(law, low=low * wider, high=high * wider, rose=rose, tried=tried)


def _bounds(
    misses: FloatArray, low: FloatArray, high: FloatArray, lead: int
) -> tuple[float, float]:
    """Return the band of a day ahead; never narrower than that of the day before.

    With fewer than `FEWEST_STEPS` falls that last so long the band of the day before grows in
    proportion to the time; on the first day it is a tenth either way (our choice, 0.05-0.2).
    """
    tail = (1 - SURE) / 2
    below, above = (low[lead - 2], high[lead - 2]) if lead > 1 else (0.0, 0.0)
    if misses.size >= FEWEST_STEPS:
        bottom, top = np.quantile(misses, [tail, 1 - tail])
        return min(float(bottom), below), max(float(top), above)
    if lead == 1:
        return -0.1, 0.1
    grow = lead / (lead - 1)
    return below * grow, above * grow
