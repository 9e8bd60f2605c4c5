"""Several home waters over the coming days, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group
from rich.table import Table
from rich.text import Text

from reachmap.base.language import tr
from reachmap.base.terminal_text import printable
from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.planner.sun import local
from reachmap.planner.waters import WatersDay
from reachmap.text.days import LOCAL_RULES
from reachmap.text.days_rules import rules_sentences
from reachmap.text.waters import (
    COMPARED,
    day_words,
    drive_words,
    go_line,
    now_words,
    state_sentences,
    worth_words,
)


def waters_shown(
    home: str,
    table: Sequence[WatersDay],
    waters: Sequence[Days],
    drives: Sequence[float],
    units: Sequence[UnitSystem],
    notes: Sequence[str],
) -> Group:
    """Return a row for each water with what each day is worth, and where to go, below it.

    Parameters
    ----------
    home
        Name of the folder of waters.
    table
        From `waters_days`.
    waters, drives, units, notes
        Of each water: its coming days, minutes of the drive, units of its folder, and the angler's
        own note, "" for none.
    """
    names = [days.facts.name for days in waters]
    grid = Table(title=Text(printable(home)), title_justify="left", show_lines=True)
    grid.add_column("Water", overflow="fold")
    for day in table:
        grid.add_column(day_words(day), justify="right")
    for number, name in enumerate(names):
        cells = [
            Text(
                next((worth_words(one) for one in day.each if one.water == number), ""),
                style="bold" if day.best and day.best[0].water == number else "",
            )
            for day in table
        ]
        head = f"{printable(name)}\n{drive_words(drives[number])}"
        grid.add_row(Text(head), *cells)
    lines = [go_line(day, names, waters) for day in table]
    for name, days, system, note in zip(names, waters, units, notes, strict=True):
        own = [tr("Your note: {note}.", note=note.rstrip("."))] if note else []
        looked = rules_sentences(days.rules, local(days.outlook.now, days.zone).date())
        said = (
            f"{name}: {now_words(days, system)}.",
            *state_sentences(days, system),
            *looked,
            *own,
        )
        lines.append(" ".join(said))
    lines += [tr(COMPARED), tr(LOCAL_RULES)]
    return Group(grid, *(Text(printable(line)) for line in lines))
