"""The coming days as lines: the best one in full, and the basis of the forecast."""

from __future__ import annotations

from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.planner.sun import local
from reachmap.text.days import (
    LOCAL_RULES,
    boat_sentence,
    bring_sentences,
    clarity_sentence,
    confidence_sentence,
    day_name,
    pick_line,
    rising_sentence,
)
from reachmap.text.days_odds import odds_sentence
from reachmap.text.days_rules import day_rules_sentences, rules_sentences
from reachmap.text.days_why import (
    course_sentence,
    hours_sentence,
    tide_sentence,
    tide_turns_of,
    warmth_trend_sentence,
    why_sentences,
)
from reachmap.text.outlook import outlook_sentences
from reachmap.text.warmth import temperature_words


def days_lines(days: Days, units: UnitSystem) -> list[str]:
    """Return the best day in full, the outlook, the notes and the local rules."""
    lines = [*all_rules(days)]
    if days.best is None:
        lines.append(boat_sentence(days.facts) or tr("No day can be named best."))
    else:
        day, plan = days.days[days.best], days.plans[days.best]
        why = why_sentences(day, days.facts, units, days.settings.day.score)
        lines.append(f"{day_name(day)}: {' '.join(why)}")
        lines += [
            f"  {pick.run.facts.name}: {pick_line(pick.run, days.zone, units)}"
            for pick in plan.picks
        ]
        lines += about_hours(days.best, days, units)
        lines += [one for one in (odds_sentence(day, days),) if one]
        lines.append(clarity_sentence(day, units))
        lines.append(rising_sentence(day, days.zone))
        lines += bring_sentences(day, plan, units, days.facts.flies)
        lines.append(confidence_sentence(days.sure[days.best]))
    lines += outlook_sentences(days.outlook, units, days.zone)
    lines += [tr("Note: {line}", line=line) for line in days.remarks]
    return [*lines, *water_sentences(days, units), tr(LOCAL_RULES)]


def all_rules(days: Days) -> list[str]:
    """Return the sentences on the rules' age, and the rules of the best day."""
    today = local(days.outlook.now, days.zone).date()
    sentences = rules_sentences(days.rules, today)
    if days.best is not None:
        sentences += day_rules_sentences(days.days[days.best], days.rules)
    return sentences


def about_hours(index: int, days: Days, units: UnitSystem) -> list[str]:
    """Return when to go on one of the days, its daily wave and its tide."""
    day = days.days[index]
    sentences = [hours_sentence(day, days.plans[index], days.zone, units)]
    if not day.hours.times.size:
        return []
    if days.course is not None:
        sentences.append(course_sentence(days.course, day, days.zone))
    if days.tide is not None:
        times = days.tide.times
        turns = days.tide.turns(times[0], times[-1])
        sentences.append(tide_sentence(tide_turns_of(day, turns), days.zone))
    return [one for one in sentences if one]


def water_sentences(days: Days, units: UnitSystem) -> list[str]:
    """Return the water's temperature and its trend."""
    words = temperature_words(days.water_c, units)
    trend = ""
    if days.water is not None:
        trend = warmth_trend_sentence(days.water.per_day, days.water_c, units)
    return [one for one in (words, trend) if one]
