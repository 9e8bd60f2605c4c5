"""Several home waters in words: which to drive to on which day, and the state of the others."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from reachmap.base.language import noted, number_text, tr
from reachmap.base.units import FLOW, flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.record import Trend
from reachmap.gauge.series import HOUR, Series, flow_on
from reachmap.planner.days import Days
from reachmap.planner.sun import local
from reachmap.planner.waters import WaterDay, WatersDay
from reachmap.text.days import boat_sentence, clock, short_date
from reachmap.text.days_why import why_unknown
from reachmap.text.numbers import NOT_KNOWN, list_words, time_words

COMPARED = noted(
    "Worth is told against each river's own best day, not in fish: it says how good a day a river "
    "has, not which river holds more. Where the drive leaves less light than one fishes it is "
    "worth less in proportion; of waters that are worth alike the nearest comes first."
)
"""How rivers are compared, for the foot of the page."""

OLD_READING_H = 24.0
"""Age from which a reading's age is given [h]; our choice, 12-48."""


def drive_words(drive_min: float) -> str:
    """Return the duration of the drive."""
    if math.isnan(drive_min):
        return tr("drive not given")
    return tr("{time} drive", time=time_words(drive_min))


def day_words(day: WatersDay) -> str:
    """Return a day's name, like Sat 12 Jan."""
    return short_date(day.day)


def worth_words(one: WaterDay) -> str:
    """Return a water's worth on a day in one word: a number, or why there is none."""
    if one.day.closed:
        return tr("closed")
    if math.isnan(one.worth):
        return "?"
    if not one.fishes:
        return tr("boat") if one.by_boat else tr("no")
    return f"{one.worth:.0f}"


def worth_in_full(one: WaterDay) -> str:
    """Return the worth in full, for screen readers."""
    if one.day.closed:
        return tr("closed by the rules")
    if math.isnan(one.worth):
        return tr(NOT_KNOWN)
    if not one.fishes:
        return tr("only a boat leads there") if one.by_boat else tr("nothing to go for")
    return tr("worth {worth} of 100", worth=round(one.worth))


def first_runs(one: WaterDay, days: Days) -> str:
    """Return the runs of a water's list that day, each with its hour."""
    named = [
        f"{clock(pick.begin, days.zone)} {pick.run.facts.name}"
        for pick in sorted(one.plan.picks, key=lambda pick: pick.begin)
    ]
    return ", ".join(named)


def go_line(day: WatersDay, names: Sequence[str], waters: Sequence[Days]) -> str:
    """Return where to drive that day, in one line."""
    if not day.best:
        return tr("{day}: nowhere to go for, as far as is known.", day=day_words(day))
    best = day.best[0]
    sentence = f"{day_words(day)}: {names[best.water]} ({best.worth:.0f}): "
    sentence += first_runs(best, waters[best.water])
    if others := [f"{names[one.water]} ({one.worth:.0f})" for one in day.best[1:]]:
        sentence += tr(". Else {waters}", waters=list_words(others))
    return f"{sentence}."


def now_words(days: Days, units: UnitSystem) -> str:
    """Return the gauge's flow now, its trend and the time of the last reading."""
    outlook = days.outlook
    flow = flow_now(days)
    gauge = days.facts.gauge or tr("gauge")
    if math.isnan(flow):
        return tr("{gauge}: today's flow is not known", gauge=gauge)
    step = from_si(flow, FLOW[units])
    shown = flow_words(flow if step < 1 else flow * round(step) / step, units)
    if np.isnat(outlook.last):
        return tr(
            "{gauge}: about {flow}, by the forecast; no reading is at hand", gauge=gauge, flow=shown
        )
    age = float((outlook.now - outlook.last) / HOUR)
    when = local(outlook.last, days.zone)
    told = tr(
        "{gauge}: {flow}, {trend}; last read {day} {time}",
        gauge=gauge,
        flow=shown,
        trend=tr(TRENDS[outlook.trend]),
        day=short_date(when.date()),
        time=f"{when:%H:%M}",
    )
    if age <= OLD_READING_H:
        return told
    return tr("{reading}, {days} days ago", reading=told, days=number_text(age / 24, 1))


TRENDS: Mapping[Trend, str] = {
    Trend.RISING: noted("rising"),
    Trend.FALLING: noted("falling"),
    Trend.STEADY: noted("steady"),
    Trend.UNKNOWN: noted("heading not known"),
}
"""What the river does."""


def flow_now(days: Days) -> float:
    """Return the flow at the start of the coming days [m3/s]; NaN unknown."""
    outlook = days.outlook
    return float(flow_on(Series(outlook.times, outlook.flow), np.array([outlook.now]))[0])


def range_sentence(days: Days, units: UnitSystem) -> str:
    """Return that today's flow is outside the mapped ones; empty where it is within."""
    flow, flows = flow_now(days), days.facts.flows
    if math.isnan(flow) or flows[0] <= flow <= flows[-1]:
        return ""
    if flow < flows[0]:
        end = flow_words(flows[0], units)
        return tr("Now below the lowest mapped flow, {flow}: nothing is known of it.", flow=end)
    end = flow_words(flows[-1], units)
    return tr("Now above the highest mapped flow, {flow}: nothing is known of it.", flow=end)


def closed_sentence(days: Days) -> str:
    """Return that the rules close a water on all the coming days; empty where they do not."""
    shut = bool(days.days) and all(day.closed for day in days.days)
    return tr("Closed by the rules on each of these days.") if shut else ""


def unknown_sentences(days: Days, units: UnitSystem) -> list[str]:
    """Return why days have a question mark, one sentence for each reason."""
    by_reason: dict[str, list[str]] = {}
    for day in days.days:
        if day.hours.times.size and not day.closed and math.isnan(day.score):
            reason = why_unknown(day.hours.flow, days.facts, units)
            by_reason.setdefault(reason, []).append(short_date(day.light.day))
    return [
        tr("? on {days}: {reason}", days=list_words(dates), reason=reason)
        for reason, dates in by_reason.items()
    ]


def state_sentences(days: Days, units: UnitSystem) -> list[str]:
    """Return what keeps one from a water in the coming days: rules, a boat, what is not known."""
    more = (closed_sentence(days), boat_sentence(days.facts), range_sentence(days, units))
    return [*filter(None, more), *unknown_sentences(days, units)]
