"""Writes the coming days of several waters: a page of all, and the page of each."""

from __future__ import annotations

from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.language import written_in
from reachmap.base.words import UnitSystem
from reachmap.markup.folder_locale import folder_locale
from reachmap.markup.waters import Water
from reachmap.outputs.days_page.write import write_days
from reachmap.outputs.waters_page.page import waters_page
from reachmap.planner.days import Days
from reachmap.planner.waters import WatersDay

PAGE = "written/index.html"
"""File name of the page of all waters, in their folder."""


def write_week(
    folder: Path,
    home: str,
    table: tuple[WatersDay, ...],
    waters: tuple[Water, ...],
    week: tuple[Days, ...],
    units: tuple[UnitSystem, ...],
    failed: tuple[tuple[str, str], ...],
) -> list[Path]:
    """Write the page of all waters and the days of each, and return the paths, that of all first.

    Parameters
    ----------
    folder
        The folder of waters.
    home, table, waters, week, units, failed
        As for `waters_page`.
    """
    page = waters_page(home, table, waters, week, units, failed)
    target = folder / PAGE
    target.parent.mkdir(exist_ok=True)
    written = [write_aside(target, lambda aside: aside.write_text(page, encoding="utf-8"))]
    for water, days, system in zip(waters, week, units, strict=True):
        with written_in(folder_locale(water.folder)):
            written += write_days(days, system, water.folder / "written")
    return written
