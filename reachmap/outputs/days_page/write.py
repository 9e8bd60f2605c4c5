"""Writes the coming days as a page and a calendar."""

from __future__ import annotations

from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.outputs.calendar import days_calendar
from reachmap.outputs.days_page.page import Look, days_page
from reachmap.outputs.palette import BY_KIND
from reachmap.planner.days import Days
from reachmap.text import cautions
from reachmap.text.terms import KINDS
from reachmap.text.wading_terms import terms_from


def write_days(days: Days, units: UnitSystem, folder: Path) -> list[Path]:
    """Write days.html and days.ics into a folder and return their paths."""
    page, calendar = days_page(days, shared_look(days, units)), days_calendar(days, units)
    return [
        write_aside(folder / "days.html", lambda aside: aside.write_text(page, encoding="utf-8")),
        write_aside(folder / "days.ics", lambda aside: aside.write_bytes(calendar)),
    ]


def shared_look(days: Days, units: UnitSystem) -> Look:
    """Return the colours and texts that the page of days shares with the maps."""
    terms = terms_from(days.facts.wading_terms, units)
    styles = {kind: BY_KIND[kind] for kind in KINDS}
    return Look(
        letters={kind: style.letter for kind, style in styles.items()},
        inks={
            kind: (style.day.fill, style.day.ink, style.night.fill, style.night.ink)
            for kind, style in styles.items()
        },
        short=tr(cautions.SHORT),
        cautions=tuple(tr(line) for line in cautions.CAUTIONS),
        invented=tr(cautions.INVENTED),
        preview=tr(cautions.PREVIEW),
        graded=terms.lines,
        margins_off=terms.margins_off,
        units=units,
    )
