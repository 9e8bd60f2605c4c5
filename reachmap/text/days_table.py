"""The coming days as a table in the terminal."""

from __future__ import annotations

import math

from rich.console import Group
from rich.table import Table
from rich.text import Text

from reachmap.base.terminal_text import printable
from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.text.days import clock, day_name, flow_sentence
from reachmap.text.days_list import days_lines
from reachmap.text.days_odds import odds_head, odds_short


def days_shown(days: Days, units: UnitSystem) -> Group:
    """Return the days as a table for the terminal, the best one in full below it."""
    below = (Text(printable(line)) for line in days_lines(days, units))
    return Group(_table(days, units), *below)


def _table(days: Days, units: UnitSystem) -> Table:
    """Return one row a day."""
    table = Table(title=Text(printable(days.facts.name)), title_justify="left", show_lines=True)
    for head in ("Day", "Worth", odds_head(days), "Flow", "Runs, in order", "How sure"):
        table.add_column(head, justify="right" if head == "Worth" else "left", overflow="fold")
    rows = zip(days.days, days.plans, days.sure, strict=True)
    for index, (day, plan, sure) in enumerate(rows):
        runs = [
            f"{clock(pick.begin, days.zone)} {pick.run.facts.name} ({pick.run.score:.0f})"
            for pick in plan.picks
        ]
        table.add_row(
            Text(printable(day_name(day)) + ("\nbest" if index == days.best else "")),
            Text("?" if math.isnan(day.score) else f"{day.score:.0f}"),
            Text(odds_short(day)),
            Text(printable(flow_sentence(day, units).split(". ")[0])),
            Text("\n".join(printable(one) for one in runs) or "none"),
            Text(str(sure.word)),
            style="bold" if index == days.best else "",
        )
    return table
