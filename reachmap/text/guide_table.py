"""The guide's day for the terminal: rods by turns, then swaps, plan B and the rest in lines."""

from __future__ import annotations

from rich.console import Group
from rich.table import Table
from rich.text import Text

from reachmap.base.language import tr
from reachmap.base.terminal_text import printable
from reachmap.base.words import UnitSystem
from reachmap.planner.guide.plan import GuideDay
from reachmap.planner.guide.ways import IDLE
from reachmap.text.days import LOCAL_RULES, clock
from reachmap.text.days_rules import rules_sentences
from reachmap.text.guide import (
    COURTESY,
    date_words,
    head_sentence,
    light_sentence,
    no_plan_sentence,
    person_sentence,
    spot_words,
    swap_sentences,
    turn_words,
    water_sentence,
)
from reachmap.text.guide_why import backup_sentence, boat_sentences, left_words, why_sentences


def guide_shown(day: GuideDay, units: UnitSystem) -> Group:
    """Return the plan for the terminal."""
    lines = [head_sentence(day, units), water_sentence(day, units), light_sentence(day)]
    if day.plan.solved is None:
        return Group(*_texts([*lines, no_plan_sentence(day), *_rest(day, units)]))
    below = [
        *swap_sentences(day),
        *why_sentences(day),
        *boat_sentences(day),
        *(backup_sentence(day, one) for one in day.plan.backups),
        *_rest(day, units),
        tr(COURTESY),
        tr(LOCAL_RULES),
    ]
    return Group(*_texts(lines), _table(day, units), *_texts(below))


def _rest(day: GuideDay, units: UnitSystem) -> list[str]:
    """Return the people's limits, the runs left out, and the rules."""
    people = range(len(day.inputs.party.people))
    out = [f"{one.run.name}: {left_words(day, one, units)}." for one in day.plan.left_out]
    rules = rules_sentences(day.inputs.day.rules, day.made.date())
    return [*(person_sentence(day, rod, units) for rod in people), *out, *rules]


def _texts(lines: list[str]) -> list[Text]:
    """Return lines without signs that steer a terminal."""
    return [Text(printable(line)) for line in lines]


def _table(day: GuideDay, units: UnitSystem) -> Table:
    """Return one row a turn, one column a rod."""
    name = f"{day.reach.name}: {date_words(day)}"
    table = Table(title=Text(printable(name)), title_justify="left", show_lines=True)
    table.add_column("Turn", overflow="fold")
    for person in day.inputs.party.people:
        table.add_column(Text(printable(person.name)), overflow="fold")
    for turn in range(day.plan.layout.frame.turns):
        row = [Text(clock(day.plan.layout.at(turn), day.zone))]
        for way in day.plan.rods:
            one = way[turn]
            where = "" if one.spot == IDLE else f"{spot_words(day, one.spot)}\n"
            row.append(Text(printable(where.strip()) + ("\n" if where else "")
                            + printable(turn_words(day, one, units))))  # fmt: skip
        table.add_row(*row)
    return table
