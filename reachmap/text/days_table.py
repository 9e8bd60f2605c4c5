"""The coming days as a table in the terminal."""

from __future__ import annotations

import math

from rich.console import Group
from rich.table import Table
from rich.text import Text

from reachmap.base.language import tr
from reachmap.base.terminal_text import printable
from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.text.days import clock, day_name, flow_short
from reachmap.text.days_list import days_lines
from reachmap.text.days_odds import odds_head, odds_short
from reachmap.text.plain_words import in_words


def days_shown(days: Days, units: UnitSystem) -> Group:
    """Return the days as a table for the terminal, the best one in full below it."""
    below = (Text(printable(line)) for line in days_lines(days, units))
    return Group(_table(days, units), *below)


def _table(days: Days, units: UnitSystem) -> Table:
    """Return one row a day."""
    table = Table(title=Text(printable(days.facts.name)), title_justify="left", show_lines=True)
    worth = tr("Worth")
    heads = (tr("Day"), worth, odds_head(days), tr("Flow"), tr("Runs, in order"), tr("How sure"))
    for head in heads:
        table.add_column(head, justify="right" if head == worth else "left", overflow="fold")
    rows = zip(days.days, days.plans, days.sure, strict=True)
    for index, (day, plan, sure) in enumerate(rows):
        runs = [
            f"{clock(pick.begin, days.zone)} {pick.run.facts.name} ({pick.run.score:.0f})"
            for pick in plan.picks
        ]
        table.add_row(
            Text(printable(day_name(day)) + (f"\n{tr('best')}" if index == days.best else "")),
            Text("?" if math.isnan(day.score) else f"{day.score:.0f}"),
            Text(odds_short(day)),
            Text(printable(flow_short(day, units, banded=True) or tr("Flow not known."))),
            Text("\n".join(printable(one) for one in runs) or tr("none")),
            Text(in_words(sure.word)),
            style="bold" if index == days.best else "",
        )
    return table
