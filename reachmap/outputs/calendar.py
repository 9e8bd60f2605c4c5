"""The days as an iCalendar file (RFC 5545), for the calendar of a phone."""

from __future__ import annotations

import hashlib
from datetime import UTC, timedelta

from icalendar import Calendar, Event

from reachmap.base.language import noted, tr
from reachmap.base.words import UnitSystem
from reachmap.planner.choose import Pick
from reachmap.planner.days import Days
from reachmap.planner.sun import local
from reachmap.text.days import (
    LOCAL_RULES,
    clarity_sentence,
    clock,
    confidence_sentence,
    flow_sentence,
    pick_line,
    rising_sentence,
)
from reachmap.text.days_odds import odds_sentence
from reachmap.text.days_rules import day_rules_sentences

CAUTION = noted(
    "People drown wading. This is a working guess from a drawing: trust your eyes over it."
)


def days_calendar(days: Days, units: UnitSystem) -> bytes:
    """Return one event for each day with a list of runs, from its first run to its last.

    Times are in UTC, so that summer time cannot move them; the same days give the same event UIDs,
    so that importing the file again updates them in place.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//reachmap//days//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", days.facts.name)
    for index, plan in enumerate(days.plans):
        if plan.picks:
            calendar.add_component(_event(days, index, plan.picks, units))
    return bytes(calendar.to_ical())


def _event(days: Days, index: int, picks: tuple[Pick, ...], units: UnitSystem) -> Event:
    """Return a day's event."""
    day = days.days[index]
    begin = local(picks[0].begin, days.zone).astimezone(UTC)
    end = local(picks[-1].begin, days.zone).astimezone(UTC) + timedelta(minutes=picks[-1].minutes)
    event = Event()
    key = f"{days.facts.name}/{day.light.day.isoformat()}"
    event.add("uid", f"{hashlib.sha256(key.encode()).hexdigest()[:24]}@reachmap.invalid")
    event.add("dtstamp", local(days.outlook.now, days.zone).astimezone(UTC))
    event.add("dtstart", begin)
    event.add("dtend", end)
    names = ", ".join(pick.run.facts.name for pick in picks)
    summary = f"{days.facts.name}: {names}"
    best = tr("Best day: {summary}", summary=summary) if index == days.best else summary
    event.add("summary", best)
    event.add("description", "\n".join(_lines(days, index, picks, units)))
    event.add("location", days.facts.name)
    # RFC 5545, 3.8.1.6: latitude, then longitude [degrees]; six decimals are about a metre
    event.add("geo", (round(days.facts.latitude, 6), round(days.facts.longitude, 6)))
    event.add("class", "PRIVATE")
    event.add("transp", "TRANSPARENT")
    event.add("status", "TENTATIVE")
    return event


def _lines(days: Days, index: int, picks: tuple[Pick, ...], units: UnitSystem) -> list[str]:
    """Return the lines of a day's event."""
    day, zone = days.days[index], days.zone
    lines = [
        f"{clock(pick.begin, zone)} {pick.run.facts.name}: {pick_line(pick.run, zone, units)}"
        for pick in picks
    ]
    odds = odds_sentence(day, days)
    return [
        *lines,
        *([odds] if odds else []),
        *day_rules_sentences(day, days.rules),
        flow_sentence(day, units),
        clarity_sentence(day, units),
        rising_sentence(day, zone),
        confidence_sentence(days.sure[index]),
        tr(CAUTION),
        tr(LOCAL_RULES),
    ]
