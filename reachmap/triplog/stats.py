"""What a log says of a run at a flow, without saying more than so few trips can."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.stats import chi2

from reachmap.triplog.model import Entry

SURE = 0.9
"""Share of cases in which the true rate lies in the interval; our choice, 0.8-0.95."""

FEW_HOURS = 10.0
"""With fewer hours than this a rate is called a hint; our choice, 5-30."""

FLOW_BAND = 1.25
"""Flows within this ratio count as the same flow; our choice, 1.1-1.5: a river changes its face
slowly with flow."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Trips to a run at about one flow.

    `low` and `high` [touches/h] bound the rate; NaN where no time was written down.
    """

    trips: int
    hours: float
    touches: int
    landed: int
    low: float
    high: float

    @property
    def words(self) -> str:
        """Return one plain sentence."""
        if self.trips == 0:
            return "not fished yet at about this flow"
        times = "once" if self.trips == 1 else f"{self.trips} times"
        touched = "1 touch" if self.touches == 1 else f"{self.touches} touches"
        if math.isnan(self.high):
            return f"fished {times}, {touched}; no time written down, so no rate"
        rate = f"{self.low:.1f} to {self.high:.1f} an hour"
        told = f"fished {times}, {self.hours:.1f} h, {touched}: {rate}"
        return f"{told}; too little time to be more than a hint" if self.hours < FEW_HOURS else told


def rate_interval(count: int, hours: float, sure: float = SURE) -> tuple[float, float]:
    """Return the bounds of a rate from a count: the exact interval for a Poisson mean.

    Parameters
    ----------
    count
        Events seen, >= 0.
    hours
        Time watched [h], > 0.
    sure
        Confidence, 0 to 1.

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
    """
    if count < 0 or not hours > 0:
        msg = "a rate wants a count of at least 0 and some hours"
        raise ValueError(msg)
    tail = (1 - sure) / 2
    low = chi2.ppf(tail, 2 * count) / 2 if count else 0.0
    high = chi2.ppf(1 - tail, 2 * count + 2) / 2
    return float(low / hours), float(high / hours)


def tally(entries: Sequence[Entry], *, run: str, flow: float) -> Tally:
    """Return what entries say of a run at about a flow [m3/s].

    Entries whose flow was not written down belong to no flow and are left out.
    """
    near = [
        entry
        for entry in entries
        if entry.run == run and 1 / FLOW_BAND <= entry.flow / flow <= FLOW_BAND
    ]
    timed = [entry for entry in near if not math.isnan(entry.minutes)]
    hours = sum(entry.minutes for entry in timed) / 60
    low, high = math.nan, math.nan
    if hours > 0:
        low, high = rate_interval(sum(entry.touches for entry in timed), hours)
    return Tally(
        trips=len(near),
        hours=hours,
        touches=sum(entry.touches for entry in near),
        landed=sum(entry.landed for entry in near),
        low=low,
        high=high,
    )
