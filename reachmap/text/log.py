"""The log's counts and rates as plain sentences."""

from __future__ import annotations

import math
from collections import Counter

from reachmap.base.language import figures_text, number_text
from reachmap.logbook.join import Joined
from reachmap.logbook.rates import ShrunkenRate
from reachmap.logbook.stats import Tally

FEW_HOURS = 10.0
"""With fewer hours than this a rate is called a hint [h]; our choice, 5-30."""

NAMED_MOST = 8
"""Most names without a run that are listed (our choice)."""


def tally_words(tally: Tally) -> str:
    """Return the tally of a run at about one flow, as one plain sentence."""
    if tally.trips == 0:
        return "not fished yet at about this flow"
    sentence = f"fished {times_words(tally.trips)}, {touches_words(tally.touches)}"
    if math.isnan(tally.high):
        return f"{sentence}; no time written down, so no rate"
    rate = f"{number_text(tally.low, 1)} to {number_text(tally.high, 1)} an hour"
    if tally.timed < tally.trips:
        timed = f"{times_words(tally.timed)} with {touches_words(tally.timed_touches)}"
        sentence = f"{sentence}; of these, {timed} in {number_text(tally.hours, 1)} h: {rate}"
    else:
        sentence = f"{sentence} in {number_text(tally.hours, 1)} h: {rate}"
    return (
        f"{sentence}; too little time to be more than a hint"
        if tally.hours < FEW_HOURS
        else sentence
    )


def drawn_words(rate: ShrunkenRate) -> str:
    """Return a shrunken rate, to follow a tally's words."""
    own = round(10 * rate.own_share)
    share = "hardly" if own == 0 else "all" if own == 10 else f"{own} parts in 10 of it"
    return (
        f"; beside all you logged, {figures_text(rate.low, 2)} to {figures_text(rate.high, 2)} an "
        f"hour ({share} from your hours here)"
    )


def factor_words(factor: float) -> str:
    """Return the factor of the log on a run's odds, to follow a rate's words."""
    if 0.95 < factor < 1.05:
        return "; that moves its odds in the order of runs by less than 5 %"
    return f"; its odds count {number_text(factor, 1)} times for that in the order of runs"


def weight_words(weight: float) -> str:
    """Return that the log is weighed in the order of runs; "" where it is not."""
    if weight <= 0:
        return ""
    return f"Your log counts in the order of the runs, {100 * weight:.0f} in 100 (log_weight)"


def unplaced_words(joined: Joined) -> str:
    """Return the number of trips without a run, and their names; "" where all have one."""
    if not joined.unplaced:
        return ""
    number = len(joined.unplaced)
    counted = Counter(entry.run for entry in joined.unplaced)
    names = [repr(name) if name else "no run named" for name in counted][:NAMED_MOST]
    more = f" and {len(counted) - NAMED_MOST} more" if len(counted) > NAMED_MOST else ""
    return (
        f"{trips_words(number)} could not be placed: {', '.join(names)}{more}. No run of the map "
        "has this name, and none lies at the trip's place: change the trip, or name the run so"
    )


def trips_words(count: int) -> str:
    """Return how many trips, in words."""
    return "1 trip" if count == 1 else f"{count} trips"


def times_words(count: int) -> str:
    """Return how often, in words."""
    return "once" if count == 1 else f"{count} times"


def touches_words(count: int) -> str:
    """Return how many touches, in words."""
    return {0: "no touch", 1: "1 touch"}.get(count, f"{count} touches")
