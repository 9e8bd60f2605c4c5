"""The season review page: chart of hours by run and flow, tables, untried runs; private."""

from __future__ import annotations

import base64
import hashlib
import math
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

from reachmap.base.cache import write_aside
from reachmap.base.language import tr
from reachmap.base.units import FLOW
from reachmap.base.words import UnitSystem
from reachmap.logbook.review import Cell, Knowledge, Review, Row
from reachmap.outputs.theme import page_style
from reachmap.outputs.theme.night import NIGHT_SCRIPT
from reachmap.outputs.theme.templates import page_template
from reachmap.text import cautions
from reachmap.text.log import tally_words
from reachmap.text.review import (
    CASTS,
    KNOWLEDGE,
    LITTLE,
    ODDS,
    PRIVATE,
    band_name,
    cell_sentence,
    row_name,
    run_cells,
    season_sentence,
    unplaced_sentence,
    untried_sentences,
)

HERE = files("reachmap.outputs.review_page")

REVIEW_FILE = "review.html"
"""File name, in the reach folder next to the log; files to share are written elsewhere."""

LABEL, TOP, ROW, WIDE = 132, 34, 30, 430
"""Dimensions of the chart [SVG units]: width of the names, header, height of a row, total width."""

NAME_SIGNS = 17
"""Characters of a run's name next to its row; the full name is in the row's title."""


def write_review(review: Review, name: str, units: UnitSystem, folder: Path) -> Path:
    """Write the review next to the log and return its path."""
    page = review_page(review, name, units)
    return write_aside(folder / REVIEW_FILE, lambda aside: aside.write_text(page, encoding="utf-8"))


def review_page(review: Review, name: str, units: UnitSystem) -> str:
    """Return the page as self-contained HTML without network access.

    Parameters
    ----------
    review
        The season.
    name
        Of the reach.
    units
        In which numbers are written.
    """
    digest = base64.b64encode(hashlib.sha256(NIGHT_SCRIPT.encode()).digest()).decode("ascii")
    kinds = (
        ("By flow", review.by_flow, "flow"),
        ("By how far you saw", review.by_clarity, "clarity"),
        ("By limb", review.by_limb, "limb"),
        ("By the water's temperature", review.by_water, "water"),
    )
    return page_template("reachmap.outputs.review_page", "review.html").render(
        policy=(
            f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; "
            "img-src data:; base-uri 'none'; form-action 'none'"
        ),
        style=page_style(document=True) + (HERE / "review.css").read_text(encoding="utf-8"),
        script=NIGHT_SCRIPT,
        name=name,
        whole=season_sentence(review),
        unplaced=unplaced_sentence(review),
        picture=knowing_picture(review, units) if review.runs else "",
        unit=FLOW[units].replace("m3", "m³"),
        key=[(str(one), tr(KNOWLEDGE[one])) for one in Knowledge],
        untried=untried_sentences(review, units),
        tables=[(head, [_row(one, units, kind) for one in rows]) for head, rows, kind in kinds],
        runs=[run_cells(one) for one in review.by_run],
        private=tr(PRIVATE),
        little=tr(LITTLE),
        casts=tr(CASTS),
        odds=tr(ODDS),
        short=tr(cautions.SHORT),
        cautions=cautions.CAUTIONS,
    )


def _row(row: Row, units: UnitSystem, kind: str) -> dict[str, Any]:
    """Return a row of a table."""
    return {
        "name": row_name(row, units, kind),
        "trips": row.tally.trips,
        "hours": f"{row.tally.hours:.1f}",
        "casts": f"{row.casts:,.0f}",
        "blanks": row.blanks,
        "touches": row.tally.touches,
        "words": tally_words(row.tally),
    }


def knowing_picture(review: Review, units: UnitSystem) -> str:
    """Return runs by bands of flow as an SVG: dark known well, pale a little, hatched never tried.

    Runs that were not fished and that the map rates low at every flow are left out.
    """
    bands = len(review.ends) - 1
    wide = (WIDE - LABEL) / bands
    names = [band_name(review.ends, band, units) for band in range(bands)]
    rows = [
        (run, cells)
        for run, cells in zip(review.runs, review.cells, strict=True)
        if any(cell.knowledge not in (Knowledge.POOR, Knowledge.UNMAPPED) for cell in cells)
    ]
    parts = [
        f'<text class="head" x="{LABEL + (band + 0.5) * wide:.1f}" y="{TOP - 10}" '
        f'text-anchor="middle">{escape(name)}</text>'
        for band, name in enumerate(names)
    ]
    for number, (run, cells) in enumerate(rows):
        y = TOP + number * ROW
        shown = run if len(run) <= NAME_SIGNS else f"{run[: NAME_SIGNS - 1]}…"
        parts.append(f'<text class="name" x="0" y="{y + 19}">{escape(shown)}</text>')
        for band, cell in enumerate(cells):
            title = escape(cell_sentence(run, cell, names[band]))
            parts.append(_cell(cell, (LABEL + band * wide, y, wide), title))
    high = TOP + len(rows) * ROW + 4
    return (
        f'<svg class="knowing" viewBox="0 0 {WIDE} {high}" role="img" '
        f'aria-label="Runs by bands of flow: hours fished, and what was never tried">'
        '<defs><pattern id="untried" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="7"/></pattern>'
        f"</defs>{''.join(parts)}</svg>"
    )


def _cell(cell: Cell, place: tuple[float, float, float], title: str) -> str:
    """Return one cell: its shade by what is known, its hours and touches as text."""
    x, y, wide = place
    known = cell.knowledge in (Knowledge.WELL, Knowledge.LITTLE)
    text = ""
    if known:
        hours = f"{cell.tally.hours:.0f} h" if cell.tally.hours >= 1 else "tried"
        touches = f" · {cell.tally.touches}" if cell.tally.touches else ""
        dark = " on-dark" if cell.knowledge is Knowledge.WELL else ""
        text = (
            f'<text class="count{dark}" x="{x + wide / 2:.1f}" y="{y + 19}" '
            f'text-anchor="middle">{hours}{touches}</text>'
        )
    elif math.isfinite(cell.odds) and cell.knowledge is Knowledge.UNTRIED:
        text = (
            f'<rect class="patch" x="{x + wide / 2 - 11:.1f}" y="{y + 5}" width="22" height="18"/>'
            f'<text class="count" x="{x + wide / 2:.1f}" y="{y + 19}" '
            f'text-anchor="middle">{cell.odds:.0f}</text>'
        )
    return (
        f'<g><title>{title}</title><rect class="cell {cell.knowledge}" x="{x + 1:.1f}" y="{y + 1}" '
        f'width="{wide - 2:.1f}" height="{ROW - 2}"/>{text}</g>'
    )
