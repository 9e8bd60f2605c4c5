"""The page of several home waters: their coming days in one self-contained file."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from reachmap.base.language import moment_text, tr, tr_count
from reachmap.base.words import UnitSystem
from reachmap.markup.waters import Water
from reachmap.outputs.theme import page_style
from reachmap.outputs.theme.night import NIGHT_SCRIPT
from reachmap.outputs.theme.templates import page_template
from reachmap.outputs.waters_page.windows import windows_of
from reachmap.planner.days import Days
from reachmap.planner.sun import local
from reachmap.planner.waters import WaterDay, WatersDay, best_of
from reachmap.text import cautions
from reachmap.text.days import LOCAL_RULES, boat_sentence, clock, minded, zone_words
from reachmap.text.days_odds import odds_sentence, odds_short
from reachmap.text.days_rules import rules_sentences
from reachmap.text.days_why import why_sentences
from reachmap.text.waters import (
    COMPARED,
    closed_sentence,
    day_words,
    drive_words,
    now_words,
    state_sentences,
    worth_in_full,
    worth_words,
)

HERE = files("reachmap.outputs.waters_page")
DAYS_STYLE = files("reachmap.outputs.days_page") / "days.css"


def waters_page(
    home: str,
    table: tuple[WatersDay, ...],
    waters: tuple[Water, ...],
    week: tuple[Days, ...],
    units: tuple[UnitSystem, ...],
    failed: tuple[tuple[str, str], ...] = (),
) -> str:
    """Return the page as self-contained HTML without network access.

    Parameters
    ----------
    home
        Name of the folder of waters.
    table
        Each day with the waters to drive to, from `waters_days`.
    waters, week, units
        Of each water: its folder and drive, its coming days, its units.
    failed
        Name of each water that could not be read, and why.
    """
    digest = base64.b64encode(hashlib.sha256(NIGHT_SCRIPT.encode()).digest()).decode("ascii")
    best = best_of(table)
    rows = [
        _water(number, table, water, days, system)
        for number, (water, days, system) in enumerate(zip(waters, week, units, strict=True))
    ]
    return page_template("reachmap.outputs.waters_page", "waters.html").render(
        policy=(
            f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; "
            "img-src data:; base-uri 'none'; form-action 'none'"
        ),
        style="".join(
            (
                page_style(document=True),
                DAYS_STYLE.read_text(encoding="utf-8"),
                (HERE / "waters.css").read_text(encoding="utf-8"),
            )
        ),
        script=NIGHT_SCRIPT,
        home=home,
        now=_now(week),
        days=[day_words(day) for day in table],
        best_day=None if best is None else table.index(best),
        best=None if best is None else _best(best, waters, week, units),
        rows=rows,
        failed=failed,
        invented=tr(cautions.INVENTED) if any(days.facts.invented for days in week) else "",
        preview=tr(cautions.PREVIEW) if any(days.facts.preview for days in week) else "",
        short=tr(cautions.SHORT),
        cautions=[tr(line) for line in cautions.CAUTIONS],
        compared=tr(COMPARED),
        local_rules=tr(LOCAL_RULES),
    )


def _now(week: tuple[Days, ...]) -> str:
    """Return the time of computation in words; empty where no water could be read."""
    if not week:
        return ""
    first = week[0]
    there = local(first.outlook.now, first.zone)
    return f"{moment_text(there)} ({zone_words(first.outlook.now, first.zone)})"


def _best(
    day: WatersDay, waters: tuple[Water, ...], week: tuple[Days, ...], units: tuple[UnitSystem, ...]
) -> dict[str, Any]:
    """Return the template's values for the best day and water."""
    one = day.best[0]
    days, water, system = week[one.water], waters[one.water], units[one.water]
    picks = sorted(one.plan.picks, key=lambda pick: pick.begin)
    return {
        "day": day_words(day),
        "name": days.facts.name,
        "score": worth_words(one),
        "drive": drive_words(water.drive_min),
        "why": why_sentences(one.day, days.facts, system, days.settings.day.score),
        "odds": odds_sentence(one.day, days),
        "picks": [
            {
                "begin": clock(pick.begin, days.zone),
                "name": pick.run.facts.name,
                "mind": minded(pick.run),
            }
            for pick in picks
        ],
        "else": [
            (week[other.water].facts.name, worth_words(other), drive_words(drive))
            for other in day.best[1:]
            for drive in (waters[other.water].drive_min,)
        ],
        "page": _link(water, "days.html"),
    }


def _water(
    number: int, table: tuple[WatersDay, ...], water: Water, days: Days, units: UnitSystem
) -> dict[str, Any]:
    """Return the template's values for one water."""
    cells = []
    for day in table:
        mine = next((one for one in day.each if one.water == number), None)
        cells.append(_cell(mine, day) if mine is not None else None)
    facts = days.facts
    return {
        "name": facts.name,
        "drive": drive_words(water.drive_min),
        "note": water.note,
        "now": now_words(days, units),
        "closed": bool(closed_sentence(days)),
        "boat": bool(boat_sentence(facts)),
        "state": state_sentences(days, units),
        "windows": windows_of(days, units),
        "rules": rules_sentences(days.rules, local(days.outlook.now, days.zone).date()),
        "cells": cells,
        "days_page": _link(water, "days.html"),
        "map": _link(water, "maps/index.html"),
    }


def _cell(one: WaterDay, day: WatersDay) -> dict[str, Any]:
    """Return the template's values for one water on one day."""
    first = bool(day.best) and day.best[0].water == one.water
    runs = len(one.plan.picks)
    return {
        "short": worth_words(one),
        "told": worth_in_full(one),
        "odds": odds_short(one.day),
        "runs": tr_count("{count} run", "{count} runs", runs) if one.fishes else "",
        "first": first,
        "share": max(one.worth, 0.0) if one.fishes else 0.0,
    }


def _link(water: Water, name: str) -> str:
    """Return the relative link from the page of all waters to a page of one."""
    return f"../{quote(water.folder.name)}/written/{name}"
