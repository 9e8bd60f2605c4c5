"""Odds that a day is in shape, as plain fractions like 2 in 3, with their basis."""

from __future__ import annotations

import math

from reachmap.base.language import date_text, tr
from reachmap.planner.day import Day, Odds
from reachmap.planner.days import Days
from reachmap.planner.members import MembersBasis

FRACTIONS = (
    (1, 10), (1, 5), (1, 4), (1, 3), (2, 5), (1, 2), (3, 5), (2, 3), (3, 4), (4, 5), (9, 10),
)  # fmt: skip
"""Odds as shown; below the first and above the last they are words."""


def odds_words(odds: Odds) -> str:
    """Return odds in words, like 2 in 3; empty where there are none.

    Below 1 in 20 and above 19 in 20 only the bound is given: a record of past storms does not
    support more.
    """
    share = odds.share
    if math.isnan(share):
        return ""
    if share < 0.05:
        return tr("less than 1 in 20")
    if share > 0.95:
        return tr("better than 19 in 20")
    hits, tries = min(FRACTIONS, key=lambda one: abs(one[0] / one[1] - share))
    return tr("{hits} in {tries}", hits=hits, tries=tries)


def odds_head(days: Days) -> str:
    """Return the head of the odds' column, which marks odds without rain."""
    return tr("In shape if dry") if days.basis is MembersBasis.BAND else tr("In shape")


def odds_short(day: Day) -> str:
    """Return the odds of a day for a table, closed where it is, ? where nothing is known."""
    if day.closed:
        return tr("closed")
    share = day.odds.share
    if share < 0.05:
        return tr("< 1 in 20")
    return tr("> 19 in 20") if share > 0.95 else odds_words(day.odds) or "?"


def odds_sentence(day: Day, days: Days) -> str:
    """Return the odds that a day is in shape with their basis; empty where there are none."""
    words = odds_words(day.odds)
    if not words or day.closed:
        return ""
    name = date_text(day.light.day, "name")
    if days.basis is MembersBasis.READ:
        return ""
    if days.basis is MembersBasis.HINDCAST:
        told = tr(
            "{odds} that {day} is in shape, by what came after {falls} such falls in {storms} "
            "storms of this gauge's record, rain among it.",
            odds=words,
            day=name,
            falls=day.odds.tries,
            storms=days.storms,
        )
    elif days.basis is MembersBasis.FORECASTS:
        told = tr(
            "{odds} that {day} is in shape, by the {members} members of the forecast.",
            odds=words,
            day=name,
            members=day.odds.tries,
        )
    else:
        told = tr(
            "{odds} that {day} is in shape, if it stays as dry as told: the gauge's record is too "
            "short to say how often rain comes instead.",
            odds=words,
            day=name,
        )
    return told[:1].upper() + told[1:]
