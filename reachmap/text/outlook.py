"""Sentences on the sources of the coming days' flow."""

from __future__ import annotations

from datetime import tzinfo

import numpy as np

from reachmap.base.language import date_text, number_text, tr
from reachmap.base.words import UnitSystem
from reachmap.gauge.recession import RISE_SHARE, RecessionLaw
from reachmap.gauge.record import Trend
from reachmap.gauge.series import HOUR
from reachmap.planner.outlook import CODES, Outlook, Source
from reachmap.planner.sun import local
from reachmap.text.days import flow_span
from reachmap.text.plain_words import in_words

FEWEST_TIMES = 10
"""Fewest falls on record for a share that ended in a rise; our choice, 5-30."""

RAIN_DAYS = 3
"""Lead for which the share of falls that ended in a rise is given [d]; our choice, 1-5."""


def rain_sentence(law: RecessionLaw | None, lead_days: int) -> str:
    """Return the share of the record's falls that ended in a rise, or that it is too short."""
    if law is None or lead_days < 1:
        return ""
    at = min(lead_days, law.tried.size) - 1
    tried, rose = int(law.tried[at]), int(law.rose[at])
    if tried < FEWEST_TIMES or law.floor == 0:  # overlapping days of a few weeks are no evidence
        return tr("The record is too short to say how often rain ends such a fall.")
    more = round((RISE_SHARE - 1) * 100)
    share = round(100 * rose / tried)
    within = tr("a day") if at == 0 else tr("{at} days", at=at + 1)
    return tr(
        "In this record {share} % of such falls ended in a rise of {more} % within {within}.",
        share=share,
        more=more,
        within=within,
    )


def outlook_sentences(outlook: Outlook, units: UnitSystem, zone: tzinfo) -> list[str]:
    """Return the sources of the flow, as sentences."""
    if np.isnat(outlook.last):
        sentences = [tr("No reading of the gauge is at hand.")]
    else:
        age = float((outlook.now - outlook.last) / HOUR)
        when = local(outlook.last, zone)
        sentences = [
            tr(
                "Last reading {date} {when}, the river {trend}.",
                date=date_text(when.date(), "day"),
                when=f"{when:%H:%M}",
                trend=in_words(outlook.trend),
            )
        ]
        if age > 24:
            old = number_text(age / 24, 1)
            sentences.append(tr("It is {old} days old: fetch a newer one before you go.", old=old))
    ahead = outlook.times > outlook.now
    sources = set(outlook.source[ahead].tolist())
    if CODES[Source.FALL] in sources and outlook.law is not None:
        law = outlook.law
        sentences.append(
            tr(
                "Where there is no forecast the river falls as in {steps} day-long falls of its "
                "own record ({lowest}); rain ends that.",
                steps=law.steps,
                lowest=flow_span(law.lowest, law.highest, units),
            )
        )
        if rain := rain_sentence(law, RAIN_DAYS):
            sentences.append(rain)
    if CODES[Source.UNKNOWN] in sources:
        sentences.append(_unknown_words(outlook))
    return sentences


def _unknown_words(outlook: Outlook) -> str:
    """Return why the flow is not known for some hours to come."""
    if CODES[Source.FORECAST] in outlook.source:
        return tr(
            "Beyond the forecast's end nothing tells the flow: such hours count as not known."
        )
    if outlook.trend is Trend.RISING:
        return tr("The river rises and no forecast is given: nobody here knows its peak.")
    if outlook.law is not None and not np.isnat(outlook.last):
        index = int(np.searchsorted(outlook.times, outlook.last, side="right")) - 1
        if outlook.flow[max(index, 0)] > outlook.law.highest:
            return tr(
                "The river stands higher than any fall on record: nobody here knows how it falls "
                "from there. Give a forecast."
            )
    if outlook.law is None:
        return tr("The record holds too few falls to say how this river falls: give a forecast.")
    return tr("For some hours nothing tells the flow: they count as not known.")
