"""The score in words: relative odds with their span, and the flows at which a run is worthwhile."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from reachmap.base.language import figures_text, noted, number_text, tr
from reachmap.base.units import flow_words, rounded_flow
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import length_words, list_words, number_of
from reachmap.text.terms import KINDS

RELATIVE = noted("relative odds on this river, not fish a day")
"""Meaning of the score, in all outputs."""

MOST_NAMED = 2
"""Most runs named as equal to one; our choice."""

EQUAL = noted(
    "Runs whose ranks overlap are called equal: bed, water and fish are not known well enough to "
    "tell them apart."
)
"""What is meant by equal, where a list of runs is explained."""


def odds_words(row: Mapping[str, Any], equal: Sequence[str] = ()) -> str:
    """Return a run's odds at a flow with their span, rank and equals; empty where it has none.

    Parameters
    ----------
    row
        Of the table of runs by flow.
    equal
        Names of the runs from which the map cannot tell it apart there, the best first.

    Examples
    --------
    >>> row = {"odds": 83, "odds_low": 60, "odds_high": 100, "rank_low": 1, "rank_high": 3}
    >>> odds_words(row, ["Teakettle", "The Elbow"])
    'odds 83 of 100 (60 to 100), 1st to 3rd here, equal with Teakettle and The Elbow'
    """
    odds, low, high = (number_of(row.get(name)) for name in ("odds", "odds_low", "odds_high"))
    if not math.isfinite(odds):
        return ""
    if math.isfinite(low) and math.isfinite(high):
        told = tr(
            "odds {odds} of 100 ({low} to {high})",
            odds=f"{odds:.0f}",
            low=f"{low:.0f}",
            high=f"{high:.0f}",
        )
    else:
        told = tr("odds {odds} of 100", odds=f"{odds:.0f}")
    words = (told, place_words(row, equal))
    return ", ".join(one for one in words if one)


def factor_words(row: Mapping[str, Any]) -> str:
    """Return the factors of a run's odds as a sentence; empty where it has none.

    Parameters
    ----------
    row
        Of the table of runs by flow.
    """
    rate, passing = number_of(row.get("odds_hour")), number_of(row.get("passing"))
    if not (rate > 0 and math.isfinite(passing)):
        return ""
    met, way = figures_text(100 * rate, 2), number_text(100 * passing, 0)
    return tr(
        "The odds: an hour here, way in and rigging counted, meets {met} % of the fish's time, "
        "{way} % of that on their way and {holding} % holding; {relative}.",
        met=met,
        way=way,
        holding=number_text(100 - 100 * passing, 0),
        relative=tr(RELATIVE),
    )


def place_words(row: Mapping[str, Any], equal: Sequence[str] = ()) -> str:
    """Return a run's place among the flow's runs, and its equals; empty where it has none.

    Examples
    --------
    >>> place_words({"rank_low": 2, "rank_high": 2})
    '2nd here'
    >>> place_words({"rank_low": 1, "rank_high": 5}, ["A", "B", "C", "D", "E"])
    '1st to 5th here, equal with A, B and 3 more'
    """
    rank = rank_words(number_of(row.get("rank_low")), number_of(row.get("rank_high")))
    if not rank:
        return ""
    more = len(equal) - MOST_NAMED
    named = equal if more < 2 else (*equal[:MOST_NAMED], tr("{more} more", more=more))
    if not equal:
        return tr("{rank} here", rank=rank)
    return tr("{rank} here, equal with {named}", rank=rank, named=list_words(named))


def listed_rank(row: Mapping[str, Any]) -> str:
    """Return a run's span of ranks as a list has room for it; empty where it has none.

    Examples
    --------
    >>> listed_rank({"rank_low": 1, "rank_high": 4}), listed_rank({"rank_low": 2, "rank_high": 2})
    ('rank 1-4', 'rank 2')
    """
    low, high = number_of(row.get("rank_low")), number_of(row.get("rank_high"))
    if not (low >= 1 and high >= low):
        return ""
    return (
        tr("rank {low}", low=f"{low:.0f}")
        if low == high
        else tr("rank {low}-{high}", low=f"{low:.0f}", high=f"{high:.0f}")
    )


def rank_words(low: float, high: float) -> str:
    """Return a span of ranks, like "1st to 3rd"; empty where there is none."""
    if not (low >= 1 and high >= low):
        return ""
    first, last = _ordinal(int(low)), _ordinal(int(high))
    return first if first == last else tr("{first} to {last}", first=first, last=last)


def window_words(run: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the sentence on the flows at which a run is worth going to; empty where none.

    Parameters
    ----------
    run
        Of the layer `runs`.
    units
        The reach folder's units.
    """
    low, high, best = window_flows(run)
    if not math.isfinite(best):
        return ""
    first, last, top = (flow_words(rounded_flow(one, units), units) for one in (low, high, best))
    words = (
        tr("Worth going to at {top} only", top=top)
        if low == high
        else tr(
            "Worth going to from {first} to {last}, best about {top}",
            first=first,
            last=last,
            top=top,
        )
    )
    words += tr(BEYOND[bool(run.get("window_open_low")), bool(run.get("window_open_high"))])
    if run.get("window_wide"):
        words += f". {_why_wide(run, first, last, units)}"
    return f"{words}."


def window_flows(run: Mapping[str, Any]) -> tuple[float, float, float]:
    """Return the lowest, highest and best flow of a run's window [m3/s]; NaN unknown.

    Parameters
    ----------
    run
        Of the layer `runs`.
    """
    low, high, best = (number_of(run.get(f"window_{end}_m3_s")) for end in ("low", "high", "best"))
    return low, high, best


def _why_wide(run: Mapping[str, Any], first: str, last: str, units: UnitSystem) -> str:
    """Return why a window is wider than a run's should be, without a full stop.

    `first` and `last` are the flows at its ends in words. Different water at its two ends
    explains it: two strips of one bank under one name. The same kind at both gets its depths.
    """
    ends = ("low", "high")
    depths = [run.get(f"window_{end}_depth_m") for end in ends]
    kinds = [
        kind for end in ends if isinstance(kind := run.get(f"window_{end}_kind"), str) and kind
    ]
    if len(kinds) < len(ends):
        return tr("A wide span for one run: trust it less at its ends")
    deep = [number_of(depth) for depth in depths]
    low, high = (
        tr("{kind} {depth} deep", kind=tr(KINDS[str(kind)]), depth=length_words(one, units))
        if one > 0
        else tr(KINDS[str(kind)])
        for kind, one in zip(kinds, deep, strict=True)
    )
    words = tr("{low} at {first}, {high} at {last}", low=low, first=first, high=high, last=last)
    if kinds[0] != kinds[1]:
        return tr(
            "A wide span for one run, since it is other water at its ends: {words}", words=words
        )
    return tr("A wide span for one run ({words}): trust it less at its ends", words=words)


def _ordinal(number: int) -> str:
    """Return 1st, 2nd, 3rd and so on."""
    if number % 100 in (11, 12, 13):
        return tr("{number}th", number=number)
    return tr(ORDINALS.get(number % 10, "{number}th"), number=number)


ORDINALS = {1: noted("{number}st"), 2: noted("{number}nd"), 3: noted("{number}rd")}
"""Places by their last digit; others end in th."""

BEYOND = {
    (False, False): "",
    (True, False): noted(", perhaps below too"),
    (False, True): noted(", perhaps above too"),
    (True, True): noted(", perhaps below and above too"),
}
"""Whether a run is perhaps worth going to below and above its window."""
