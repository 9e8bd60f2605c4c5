"""The coming days as a table in the terminal."""

from __future__ import annotations

import math

from rich.console import Console
from rich.table import Table
from rich.text import Text

from reachmap.base.terminal_text import printable
from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.text.days import clock, day_name, flow_told
from reachmap.text.days_list import days_lines


def print_days(days: Days, units: UnitSystem, console: Console | None = None) -> None:
    """Print the days, the best one in full, and what they rest on.

    Parameters
    ----------
    days
        The coming days.
    units
        In which numbers are written.
    console
        Where to; the terminal if not given.
    """
    screen = console or Console(highlight=False)
    screen.print(_table(days, units))
    for line in days_lines(days, units):
        screen.print(Text(printable(line)))


def _table(days: Days, units: UnitSystem) -> Table:
    """Return one row a day."""
    table = Table(title=Text(printable(days.facts.name)), title_justify="left", show_lines=True)
    for head in ("Day", "Score", "Flow", "Runs, in order", "How sure"):
        table.add_column(head, justify="right" if head == "Score" else "left", overflow="fold")
    rows = zip(days.days, days.plans, days.sure, strict=True)
    for index, (day, plan, sure) in enumerate(rows):
        runs = [
            f"{clock(pick.begin, days.zone)} {pick.run.facts.name} ({pick.run.score:.0f})"
            for pick in plan.picks
        ]
        table.add_row(
            Text(printable(day_name(day)) + ("\nbest" if index == days.best else "")),
            Text("?" if math.isnan(day.score) else f"{day.score:.0f}"),
            Text(printable(flow_told(day, units).split(". ")[0])),
            Text("\n".join(printable(one) for one in runs) or "none"),
            Text(str(sure.word)),
            style="bold" if index == days.best else "",
        )
    return table
