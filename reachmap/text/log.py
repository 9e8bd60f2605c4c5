"""The log's counts and rates as plain sentences."""

from __future__ import annotations

import math
from collections import Counter

from reachmap.base.language import figures_text, number_text, tr
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
        return tr("not fished yet at about this flow")
    sentence = tr(
        "fished {trips}, {touches}",
        trips=times_words(tally.trips),
        touches=touches_words(tally.touches),
    )
    if math.isnan(tally.high):
        return tr("{sentence}; no time written down, so no rate", sentence=sentence)
    rate = tr(
        "{low} to {high} an hour", low=number_text(tally.low, 1), high=number_text(tally.high, 1)
    )
    if tally.timed < tally.trips:
        timed = tr(
            "{timed} with {timed_touches}",
            timed=times_words(tally.timed),
            timed_touches=touches_words(tally.timed_touches),
        )
        sentence = tr(
            "{sentence}; of these, {timed} in {hours} h: {rate}",
            sentence=sentence,
            timed=timed,
            hours=number_text(tally.hours, 1),
            rate=rate,
        )
    else:
        sentence = tr(
            "{sentence} in {hours} h: {rate}",
            sentence=sentence,
            hours=number_text(tally.hours, 1),
            rate=rate,
        )
    return (
        tr("{sentence}; too little time to be more than a hint", sentence=sentence)
        if tally.hours < FEW_HOURS
        else sentence
    )


def drawn_words(rate: ShrunkenRate) -> str:
    """Return a shrunken rate, to follow a tally's words."""
    own = round(10 * rate.own_share)
    share = (
        tr("hardly")
        if own == 0
        else tr("all")
        if own == 10
        else tr("{own} parts in 10 of it", own=own)
    )
    return tr(
        "; beside all you logged, {low} to {high} an hour ({share} from your hours here)",
        low=figures_text(rate.low, 2),
        high=figures_text(rate.high, 2),
        share=share,
    )


def factor_words(factor: float) -> str:
    """Return the factor of the log on a run's odds, to follow a rate's words."""
    if 0.95 < factor < 1.05:
        return tr("; that moves its odds in the order of runs by less than 5 %")
    return tr(
        "; its odds count {factor} times for that in the order of runs",
        factor=number_text(factor, 1),
    )


def weight_words(weight: float) -> str:
    """Return that the log is weighed in the order of runs; "" where it is not."""
    if weight <= 0:
        return ""
    return tr(
        "Your log counts in the order of the runs, {weight} in 100 (log_weight)",
        weight=f"{100 * weight:.0f}",
    )


def unplaced_words(joined: Joined) -> str:
    """Return the number of trips without a run, and their names; "" where all have one."""
    if not joined.unplaced:
        return ""
    number = len(joined.unplaced)
    counted = Counter(entry.run for entry in joined.unplaced)
    names = [repr(name) if name else "no run named" for name in counted][:NAMED_MOST]
    more = (
        tr(" and {counted} more", counted=len(counted) - NAMED_MOST)
        if len(counted) > NAMED_MOST
        else ""
    )
    return tr(
        "{number} could not be placed: {names}{more}. No run of the map "
        "has this name, and none lies at the trip's place: change the trip, or name the run so",
        number=trips_words(number),
        names=", ".join(names),
        more=more,
    )


def trips_words(count: int) -> str:
    """Return how many trips, in words."""
    return tr("1 trip") if count == 1 else tr("{count} trips", count=count)


def times_words(count: int) -> str:
    """Return how often, in words."""
    return tr("once") if count == 1 else tr("{count} times", count=count)


def touches_words(count: int) -> str:
    """Return how many touches, in words."""
    return {0: tr("no touch"), 1: tr("1 touch")}.get(count, f"{count} touches")
