"""The rules file: one row a rule, read and checked."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, time

from reachmap.base.errors import Fault
from reachmap.gauge.typed_csv import named_lines
from reachmap.planner.rules import Rule, RuleKind

COLUMNS = ("from", "to", "hours", "where", "rule", "gear", "source", "checked")

FIX = f"Name its columns {', '.join(COLUMNS)}; from, to and rule are a must"

WHOLE = ("", "reach", "all")
"""What stands in `where` for the whole reach."""


def read_rules(file: str, text: str, runs: Sequence[str]) -> tuple[tuple[Rule, ...], list[Fault]]:
    """Return the rules of a CSV, with a fault for every wrong row.

    Parameters
    ----------
    file
        Its name, for the faults.
    text
        Its text; lines that begin with # are left out. `from` and `to` are days, like 2031-01-05,
        or 01-05 for every year; `hours` like 06:00-18:00, empty for the whole day; `where` is empty
        or `reach` for all of it, else names of runs with ; between; `rule` is open, closed or gear;
        `gear` and `source` are plain words; `checked` is the day somebody looked it up.
    runs
        Names of the runs there are.
    """
    heads, rows = named_lines(text)
    if not heads:
        return (), []
    lacks = [name for name in ("from", "to", "rule") if name not in heads]
    if lacks:
        return (), [Fault(file, f"it has no column {' or '.join(lacks)}", FIX)]
    found: list[Rule] = []
    faults: list[Fault] = []
    for number, cells, _ in rows:
        wrong: list[tuple[str, str]] = []
        rule = _rule(cells, runs, wrong)
        faults += [Fault(f"{file}, row {number}", what, fix) for what, fix in wrong]
        if rule is not None and not wrong:
            found.append(rule)
    return tuple(found), faults


def _rule(
    cells: Mapping[str, str], runs: Sequence[str], wrong: list[tuple[str, str]]
) -> Rule | None:
    """Return a row as a rule, with what is wrong with it added to `wrong`."""
    word = cells.get("rule", "").lower()
    if word not in set(RuleKind):
        wrong.append((f"rule is {word!r}", f"Use one of: {', '.join(RuleKind)}"))
    begin, end = (_day(cells.get(name, ""), name, wrong) for name in ("from", "to"))
    hours = _hours(cells.get("hours", ""), wrong)
    where = cells.get("where", "")
    names = () if where.lower() in WHOLE else tuple(one.strip() for one in where.split(";"))
    strange = [name for name in names if name not in runs]
    if strange:
        wrong.append((f"there is no run {', '.join(map(repr, strange))}", "Name runs of the map"))
    checked = None
    if cells.get("checked"):
        checked = _whole_day(cells["checked"], "checked", wrong)
    if begin is None or end is None or wrong:
        return None
    if begin[1] != end[1]:
        wrong.append(("from and to are not both of every year", "Give both with a year, or none"))
        return None
    if not begin[1] and begin[0] > end[0]:
        wrong.append(("it ends before it begins", "Swap from and to"))
        return None
    return Rule(
        RuleKind(word),
        begin[0],
        end[0],
        begin[1],
        hours,
        names,
        cells.get("gear", ""),
        cells.get("source", ""),
        checked,
    )


def _day(text: str, name: str, wrong: list[tuple[str, str]]) -> tuple[date, bool] | None:
    """Return a day and whether it is meant in every year; a leap year holds all of them."""
    if re.fullmatch(r"\d{2}-\d{2}", text):
        found = _whole_day(f"2000-{text}", name, wrong)
        return None if found is None else (found, True)
    found = _whole_day(text, name, wrong)
    return None if found is None else (found, False)


def _whole_day(text: str, name: str, wrong: list[tuple[str, str]]) -> date | None:
    """Return an ISO day."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        wrong.append((f"{name} is {text!r}, no day", "Write it like 2031-01-05, or 01-05"))
        return None


def _hours(text: str, wrong: list[tuple[str, str]]) -> tuple[time, time] | None:
    """Return from when to when; None for the whole day."""
    if not text:
        return None
    try:
        begin, end = (time.fromisoformat(one.strip()) for one in text.split("-"))
    except ValueError:
        wrong.append((f"hours are {text!r}", "Write them like 06:00-18:00"))
        return None
    return begin, end
