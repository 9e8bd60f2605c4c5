"""Counts and rates of a log by run and flow, with the interval that so few trips allow."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from scipy.special import gammaincinv

from reachmap.logbook.model import Entry

INTERVAL_SHARE = 0.9
"""Probability that the true rate is within the interval; our choice, 0.8-0.95."""

FLOW_BAND = 1.25
"""Flows within this ratio count as the same flow; our choice, 1.1-1.5: a run changes slowly with
flow."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Trips to a run at about one flow.

    `timed` trips of them, with `timed_touches`, have their `hours` written down: only these give a
    rate. `low` and `high` [touches/h] bound it; NaN where no time was written down.
    """

    trips: int
    touches: int
    landed: int
    timed: int
    timed_touches: int
    hours: float
    low: float
    high: float

    @property
    def rate(self) -> float:
        """Return touches an hour [1/h]; NaN where no time was written down."""
        return self.timed_touches / self.hours if self.hours > 0 else math.nan


def rate_interval(count: int, hours: float, share: float = INTERVAL_SHARE) -> tuple[float, float]:
    """Return the bounds of a rate from a count: the exact interval for a Poisson mean.

    Parameters
    ----------
    count
        Events seen, >= 0.
    hours
        Time watched [h], > 0.
    share
        Probability that the interval holds the true rate, 0 to 1.

    Returns
    -------
    tuple[float, float]
        Lower and upper rate [1/h].

    Raises
    ------
    ValueError
        If the count is negative or no time was watched.

    Notes
    -----
    Garwood (1936), Biometrika 28:437 (from memory): chi2(a/2, 2n)/2 and chi2(1 - a/2, 2n + 2)/2.
    Half a chi-squared quantile of 2n is the inverse of the regularised incomplete gamma function of
    n, which loads at once where the library of distributions takes a second.
    """
    if count < 0 or not hours > 0:
        msg = "a rate wants a count of at least 0 and some hours"
        raise ValueError(msg)
    tail = (1 - share) / 2
    low = gammaincinv(count, tail) if count else 0.0
    high = gammaincinv(count + 1, 1 - tail)
    return float(low / hours), float(high / hours)


def run_key(name: str) -> str:
    """Return a run's name as a key: capitals and extra blanks do not count."""
    return " ".join(name.split()).casefold()


def is_near(flow: float, other: float) -> bool:
    """Return whether two flows [m3/s] count as the same; NaN is near nothing."""
    return flow > 0 and other > 0 and 1 / FLOW_BAND <= flow / other <= FLOW_BAND


def tally_all(entries: Iterable[Entry]) -> Tally:
    """Return the tally of all entries that fished, whatever their run and flow."""
    near = [entry for entry in entries if entry.is_fishing]
    timed = [entry for entry in near if not math.isnan(entry.minutes)]
    hours = sum(entry.minutes for entry in timed) / 60
    touches = sum(entry.touches for entry in timed)
    low, high = rate_interval(touches, hours) if hours > 0 else (math.nan, math.nan)
    return Tally(
        trips=len(near),
        touches=sum(entry.touches for entry in near),
        landed=sum(entry.landed for entry in near),
        timed=len(timed) if hours > 0 else 0,
        timed_touches=touches,
        hours=hours,
        low=low,
        high=high,
    )
