"""The coming days as lines: the best one in full, and what they rest on."""

from __future__ import annotations

from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.text.days import (
    LOCAL_RULES,
    bring_told,
    clarity_told,
    day_name,
    rising_told,
    run_line,
    sure_told,
    temperature_words,
    why_told,
)
from reachmap.text.outlook import outlook_told


def days_lines(days: Days, units: UnitSystem) -> list[str]:
    """Return the best day in full, the outlook, what was noted and the local rules."""
    told = []
    if days.best is None:
        told.append("No day can be named best.")
    else:
        day, plan = days.days[days.best], days.plans[days.best]
        told.append(f"{day_name(day)}: {' '.join(why_told(day, days.facts, units))}")
        told += [f"  {pick.run.facts.name}: {run_line(pick.run, days.zone)}" for pick in plan.picks]
        told.append(clarity_told(day, units))
        told.append(rising_told(day, days.zone))
        told += bring_told(day, plan, units, days.facts.flies)
        told.append(sure_told(days.sure[days.best]))
    told += outlook_told(days.outlook, units, days.zone)
    told += [f"Note: {line}" for line in days.remarks]
    words = temperature_words(days.water_c, units, share=days.warmth)
    return [*told, *([words] if words else []), LOCAL_RULES]
