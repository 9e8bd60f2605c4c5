"""The coming days as lines: the best one in full, and what they rest on."""

from __future__ import annotations

from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.planner.sun import local
from reachmap.text.days import (
    LOCAL_RULES,
    boat_told,
    bring_told,
    clarity_told,
    day_name,
    pick_line,
    rising_told,
    sure_told,
    temperature_words,
)
from reachmap.text.days_odds import odds_told
from reachmap.text.days_rules import day_rules_told, rules_told
from reachmap.text.days_why import (
    course_told,
    hours_told,
    tide_told,
    tide_turns_of,
    warmth_trend_told,
    why_told,
)
from reachmap.text.outlook import outlook_told


def days_lines(days: Days, units: UnitSystem) -> list[str]:
    """Return the best day in full, the outlook, what was noted and the local rules."""
    told = [*all_rules(days)]
    if days.best is None:
        told.append(boat_told(days.facts) or "No day can be named best.")
    else:
        day, plan = days.days[days.best], days.plans[days.best]
        why = why_told(day, days.facts, units, days.settings.day.score)
        told.append(f"{day_name(day)}: {' '.join(why)}")
        told += [
            f"  {pick.run.facts.name}: {pick_line(pick.run, days.zone, units)}"
            for pick in plan.picks
        ]
        told += about_hours(days.best, days, units)
        told += [one for one in (odds_told(day, days),) if one]
        told.append(clarity_told(day, units))
        told.append(rising_told(day, days.zone))
        told += bring_told(day, plan, units, days.facts.flies)
        told.append(sure_told(days.sure[days.best]))
    told += outlook_told(days.outlook, units, days.zone)
    told += [f"Note: {line}" for line in days.remarks]
    return [*told, *water_told(days, units), LOCAL_RULES]


def all_rules(days: Days) -> list[str]:
    """Return how far the rules can be trusted, and what they say of the best day."""
    today = local(days.outlook.now, days.zone).date()
    told = rules_told(days.rules, today)
    if days.best is not None:
        told += day_rules_told(days.days[days.best], days.rules)
    return told


def about_hours(index: int, days: Days, units: UnitSystem) -> list[str]:
    """Return from when to when to go on one of the days, its daily course and its tide."""
    day = days.days[index]
    told = [hours_told(day, days.plans[index], days.zone, units)]
    if not day.hours.times.size:
        return []
    if days.course is not None:
        told.append(course_told(days.course, day, days.zone))
    if days.tide is not None:
        times = days.tide.times
        turns = days.tide.turns(times[0], times[-1])
        told.append(tide_told(tide_turns_of(day, turns), days.zone))
    return [one for one in told if one]


def water_told(days: Days, units: UnitSystem) -> list[str]:
    """Return the water's temperature and where it is heading."""
    words = temperature_words(days.water_c, units)
    trend = ""
    if days.water is not None:
        trend = warmth_trend_told(days.water.per_day, days.water_c, units)
    return [one for one in (words, trend) if one]
