"""The guide's day for the terminal: rods by turns, then swaps, plan B and the rest in lines."""

from __future__ import annotations

from rich.console import Group
from rich.table import Table
from rich.text import Text

from reachmap.base.terminal_text import printable
from reachmap.base.words import UnitSystem
from reachmap.planner.guide.plan import GuideDay
from reachmap.planner.guide.ways import IDLE
from reachmap.text.days import LOCAL_RULES, clock
from reachmap.text.days_rules import rules_told
from reachmap.text.guide import (
    COURTESY,
    date_told,
    head_told,
    light_told,
    none_told,
    person_told,
    spot_words,
    swaps_told,
    turn_words,
    water_told,
)
from reachmap.text.guide_why import backup_told, boat_told, left_words, why_told


def guide_shown(day: GuideDay, units: UnitSystem) -> Group:
    """Return the plan for the terminal."""
    lines = [head_told(day, units), water_told(day, units), light_told(day)]
    if day.plan.solved is None:
        return Group(*_texts([*lines, none_told(day), *_rest(day, units)]))
    below = [
        *swaps_told(day),
        *why_told(day),
        *boat_told(day),
        *(backup_told(day, one) for one in day.plan.backups),
        *_rest(day, units),
        COURTESY,
        LOCAL_RULES,
    ]
    return Group(*_texts(lines), _table(day, units), *_texts(below))


def _rest(day: GuideDay, units: UnitSystem) -> list[str]:
    """Return the people's limits, the runs left out, and the rules."""
    people = range(len(day.asked.party.people))
    out = [f"{one.run.name}: {left_words(day, one, units)}." for one in day.plan.left_out]
    rules = rules_told(day.asked.day.rules, day.made.date())
    return [*(person_told(day, rod, units) for rod in people), *out, *rules]


def _texts(lines: list[str]) -> list[Text]:
    """Return lines without signs that steer a terminal."""
    return [Text(printable(line)) for line in lines]


def _table(day: GuideDay, units: UnitSystem) -> Table:
    """Return one row a turn, one column a rod."""
    name = f"{day.reach.name}: {date_told(day)}"
    table = Table(title=Text(printable(name)), title_justify="left", show_lines=True)
    table.add_column("Turn", overflow="fold")
    for person in day.asked.party.people:
        table.add_column(Text(printable(person.name)), overflow="fold")
    for turn in range(day.plan.laid.frame.turns):
        row = [Text(clock(day.plan.laid.at(turn), day.zone))]
        for way in day.plan.rods:
            one = way[turn]
            where = "" if one.spot == IDLE else f"{spot_words(day, one.spot)}\n"
            row.append(Text(printable(where.strip()) + ("\n" if where else "")
                            + printable(turn_words(day, one, units))))  # fmt: skip
        table.add_row(*row)
    return table
