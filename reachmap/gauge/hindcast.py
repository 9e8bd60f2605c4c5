"""Cross-validation of the recession law on the river's own record, storm by storm.

The law is fitted without the storm it is tested on. A forecast starts at every point at which the
river had fallen for a day, and is compared with the record whether it rained or not. These errors
give the odds of the next forecast.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.gauge.recession import (
    FEWEST_STEPS,
    LEADS,
    RecessionLaw,
    falling,
    fit_rate,
    floor_of,
    on_even_grid,
    recession_flow,
    step_hours,
)
from reachmap.gauge.series import HOUR, Series, hours_between
from reachmap.gauge.storms import storm_numbers, storms_of


@dataclass(frozen=True, slots=True)
class HindcastSettings:
    """Settings of the cross-validation, and of the errors used for the coming days."""

    folds: int = 8
    """Folds the storms are divided into; each is tested with a law fitted to the others. With fewer
    storms each is a fold of its own. Our choice, 5-12."""
    most_pairs: int = 1500
    """Most one-day falls a law is fitted to, evenly chosen; our choice, 500-5000."""
    fewest_storms: int = 4
    """With fewer storms no odds are drawn from the record; our choice, 3-8."""
    most: int = 40
    """Errors kept for the odds; our choice, 20-60."""
    fewest: int = 12
    """With fewer no odds are drawn; our choice, 10-30."""
    each_storm: int = 3
    """Most errors used of one storm: its hours are not independent. Our choice, 1-5."""
    fell_weight: float = 3.0
    """Weight of the fall over the last day relative to that of the flow, both in logarithms;
    our choice, 1-10: it improved the odds on ten years of a flashy river (docs/days.md)."""
    season_days: float = 60.0
    """Storms within this many days of the year are taken first [d]; our choice, 30-90: rain is
    seasonal."""


@dataclass(frozen=True, slots=True)
class Hindcast:
    """Forecast errors of the recession law on the record it comes from.

    Parameters
    ----------
    flow
        Flow at each start [m3/s], shape (starts,).
    fell
        ln of the flow over that of a day before, shape (starts,), <= 0 or nearly.
    year_day
        Day of the year of each start, 1 to 366.
    storm
        Number of the storm each start belongs to.
    errors
        ln(observed / forecast) after 1, 2, ... days, shape (starts, LEADS); NaN beyond the record.
    persistence
        ln(observed / flow at the start): the errors of a persistence forecast, same shape.
    dry
        Whether the river only fell up to that lead, same shape.
    forecast
        The flow that was forecast [m3/s], same shape.
    """

    flow: FloatArray
    fell: FloatArray
    year_day: IntArray
    storm: IntArray
    errors: FloatArray
    persistence: FloatArray
    dry: BoolArray
    forecast: FloatArray

    @property
    def storms(self) -> int:
        """Return the number of storms that the starts belong to."""
        return int(np.unique(self.storm).size)


def hindcast(record: Series, settings: HindcastSettings | None = None) -> Hindcast | None:
    """Return the errors of the recession, each storm forecast by a law fitted without it.

    Parameters
    ----------
    record
        The river's flow, readings or means of days.
    settings
        Of the cross-validation.

    Returns
    -------
    Hindcast or None
        None where the record holds fewer than two storms or too few falls.
    """
    chosen = settings or HindcastSettings()
    step = step_hours(record)
    if step is None:
        return None
    flow = on_even_grid(record, step)
    per_day = 24 // step
    falls = falling(flow, per_day)
    numbers = storm_numbers(flow.size, storms_of(flow))
    began = np.r_[np.zeros(per_day, dtype=bool), falls[:-per_day]] & np.isfinite(flow)
    start = np.flatnonzero(began).astype(np.int32)
    there = np.unique(numbers[start])
    if there.size < 2:
        return None
    lead = np.arange(1, LEADS + 1)
    later = start[:, None] + lead * per_day
    observed = np.where(later < flow.size, flow[np.minimum(later, flow.size - 1)], np.nan)
    forecast = np.full(observed.shape, np.nan)
    fold = np.searchsorted(there, numbers[start]) % min(chosen.folds, there.size)
    pairs = np.flatnonzero(falls).astype(np.int32)
    fold_of_pair = np.searchsorted(there, numbers[pairs]) % min(chosen.folds, there.size)
    floor = floor_of(record.known)
    for part in np.unique(fold):
        law = _law_without(flow, pairs[fold_of_pair != part], per_day, chosen.most_pairs)
        if law is None:
            continue
        mine = fold == part
        begin = flow[start[mine]][:, None]
        forecast[mine] = np.maximum(
            recession_flow(law, begin, lead.astype(np.float64)), np.minimum(floor, begin)
        )
    if not np.isfinite(forecast).any():
        return None
    known = record.known
    times = hours_between(known.times[0] + HOUR - np.timedelta64(1, "s"), known.times[-1])[::step]
    days = times[start].astype("datetime64[D]")
    year_day = (days - days.astype("datetime64[Y]")).astype(int) + 1
    fell = _fell_for(falls, start, per_day)
    return Hindcast(
        flow[start],
        np.log(flow[start] / flow[start - per_day]),
        np.asarray(year_day),
        numbers[start],
        np.log(observed / forecast),
        np.log(observed / flow[start][:, None]),
        fell,
        forecast,
    )


def _law_without(flow: FloatArray, pairs: IntArray, per_day: int, most: int) -> RecessionLaw | None:
    """Return the law of the falls that begin at `pairs`; None where they are too few."""
    if pairs.size < FEWEST_STEPS:
        return None
    if pairs.size > most:
        pairs = pairs[np.linspace(0, pairs.size - 1, most).astype(int)]
    before, after = flow[pairs], flow[pairs + per_day]
    middle = float(np.exp(np.log(before).mean()))
    rate, power = fit_rate(before, after, middle)
    none = np.zeros(LEADS)
    low, high, count = float(after.min()), float(before.max()), int(pairs.size)
    return RecessionLaw(rate, power, middle, low, high, count, none, none, none, none)


def _fell_for(falls: BoolArray, start: IntArray, per_day: int) -> BoolArray:
    """Return whether the river only fell for 1, 2, ... days, shape (starts, LEADS)."""
    dry = np.zeros((start.size, LEADS), dtype=bool)
    fell = np.ones(start.size, dtype=bool)
    for lead in range(LEADS):
        at = start + lead * per_day
        fell &= (at < falls.size) & falls[np.minimum(at, falls.size - 1)]
        dry[:, lead] = fell
    return dry


def members_of(
    tried: Hindcast | None,
    flow: float,
    fell: float,
    year_day: int,
    settings: HindcastSettings | None = None,
    *,
    without: int = -1,
) -> FloatArray | None:
    """Return the errors that count for a forecast from a flow at a time of the year.

    Parameters
    ----------
    tried
        The record's errors; None for none.
    flow
        Flow the forecast begins at [m3/s], > 0.
    fell
        ln of it over the flow of a day before; NaN where that is not known.
    year_day
        Day of the year, 1 to 366.
    settings
        How many are taken.
    without
        Number of a storm that is left out, to test the odds on it.

    Returns
    -------
    FloatArray or None
        ln(observed / forecast) after 0, 1, ... days, shape (members, LEADS + 1); None where the
        record holds too few. Each row is the course after one start: after rain it stays high.

    Notes
    -----
    Starts of the season come first, then the nearest in the logarithm of the flow and in the fall
    over the last day, at most `each_storm` of each storm.
    """
    chosen = settings or HindcastSettings()
    if tried is None or tried.storms < chosen.fewest_storms:
        return None
    whole = np.flatnonzero(np.isfinite(tried.errors).all(axis=1) & (tried.storm != without))
    apart = np.abs(tried.year_day[whole] - year_day)
    off_season = np.minimum(apart, 366 - apart) > chosen.season_days
    far = np.abs(np.log(tried.flow[whole] / flow))
    if np.isfinite(fell):
        far += chosen.fell_weight * np.abs(tried.fell[whole] - fell)
    kept: list[int] = []
    taken: Counter[int] = Counter()
    for at in whole[np.lexsort((far, off_season))].tolist():
        storm = int(tried.storm[at])
        if taken[storm] < chosen.each_storm:
            taken[storm] += 1
            kept.append(at)
        if len(kept) == chosen.most:
            break
    if len(kept) < chosen.fewest:
        return None
    return np.asarray(np.c_[np.zeros(len(kept)), tried.errors[kept]])


def skill(error: FloatArray, reference: FloatArray) -> float:
    """Return the skill of a forecast over another, 1 perfect, 0 no better; NaN without any pair.

    Parameters
    ----------
    error, reference
        Errors of both [any unit], one shape; pairs with NaN are left out.

    Notes
    -----
    1 - mean square error over that of the reference: Murphy (1988), Monthly Weather Review
    116:2417 (from memory).
    """
    both = np.isfinite(error) & np.isfinite(reference)
    if not both.any():
        return float("nan")
    return float(1 - (error[both] ** 2).mean() / (reference[both] ** 2).mean())
