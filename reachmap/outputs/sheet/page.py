"""One sheet as an HTML page for the browser's print, or for a PDF."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import LineString, box

from reachmap.base.units import LENGTH, SPEED
from reachmap.base.words import UnitSystem
from reachmap.outputs.day_list import Stop, day_list
from reachmap.outputs.palette import BY_KIND, FISHING
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.drawing import filled, path_data, strip_svg
from reachmap.outputs.sheet.rows import Row, table_rows
from reachmap.outputs.sheet.strips import cut_strips
from reachmap.text.cautions import ON_SHEETS
from reachmap.text.map_notes import short_between
from reachmap.text.sheet import NOTHING, foot_words, under_heading
from reachmap.text.wading_terms import Terms, terms_of

PX_PER_INCH = 96.0


@dataclass(frozen=True, slots=True)
class Paper:
    """A page: name in CSS, width and height [in], margin [in]."""

    name: str
    width: float
    height: float
    margin: float = 0.25

    @property
    def inner(self) -> tuple[float, float]:
        """Return the printable width and height [px]."""
        return (
            (self.width - 2 * self.margin) * PX_PER_INCH,
            (self.height - 2 * self.margin) * PX_PER_INCH,
        )


PAPERS = {
    "half-letter": Paper("5.5in 8.5in", 5.5, 8.5),
    "a5": Paper("A5", 148 / 25.4, 210 / 25.4),
}
"""Half letter and A5 (ISO 216: 148 mm by 210 mm)."""

USUAL = {UnitSystem.US: "half-letter", UnitSystem.METRIC: "a5"}
"""The paper that goes with a folder's units."""

MOST_ROWS = 20
"""Rows that fit below the map in readable type; the best are kept and the sheet says so."""

ROW_PX, LONGEST_CELL = 11.5, 30
"""Height of a row, and signs of a name that fit into it."""

HEAD_PX, FOOT_PX = 76.0, 88.0
"""Space kept for the heading with its key, and for access and cautions."""

DAY_LINE_PX, DAY_SIGNS = 15.6, 66
"""Height of a line of the day's list, which is in 9 point type, and signs that fit into it."""

TERMS_LINE_PX, TERMS_SIGNS = 10.4, 88
"""Height of a line on how water was graded, and signs that fit into it at its boldest."""


def sheet_page(product: Product, label: str, *, paper: str = "") -> str:
    """Return a flow's sheet as an HTML document with everything in it.

    Parameters
    ----------
    product
        The built reach.
    label
        The flow.
    paper
        A key of `PAPERS`; empty for the one that goes with the folder's units.
    """
    plan = product.markup.plan
    sheet = PAPERS[paper or USUAL[plan.units]]
    width, height = sheet.inner
    rows, left_out = _best_rows(product, label)
    terms = terms_of(product.report, plan.units)
    stops = day_list(product, label)
    tall = height - HEAD_PX - FOOT_PX - (len(rows) + 1) * ROW_PX - _terms_px(terms)
    tall -= _day_px(stops)
    strips = cut_strips(product.ground, width=width, height=tall, gap=6.0)
    drawn = "".join(strip_svg(product, label, strip, rows) for strip in strips)
    words = _flow_words(product, label)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width={sheet.width * PX_PER_INCH:.0f}">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        'style-src \'unsafe-inline\'; img-src data:"><link rel="icon" href="data:,">'
        f"<title>{html.escape(_short(plan.name))}, {html.escape(words)}: pocket sheet</title>"
        f'<style>{_style(sheet)}</style></head><body><main class="sheet">'
        f"<h1><span>{html.escape(_short(plan.name))}</span><span>{html.escape(words)}</span></h1>"
        f"{_marked(terms)}{_under(product, label)}{_day(stops)}{_key()}"
        f'<div class="strips">{drawn}</div>{_table(rows, plan.units)}'
        f"{_foot(product, left_out, terms)}</main></body></html>"
    )


def _terms_px(terms: Terms) -> float:
    """Return the height that the lines on the grading take [px], rounded up."""
    blocks = (terms.margins_off, " ".join(part for part in (terms.graded, terms.easy) if part))
    return sum(math.ceil(len(text) / TERMS_SIGNS) * TERMS_LINE_PX + 6 for text in blocks if text)


def _day_px(stops: Sequence[Stop]) -> float:
    """Return the height of the day's list [px], rounded up."""
    lines = sum(math.ceil(len(stop.short) / DAY_SIGNS) for stop in stops)
    return lines * DAY_LINE_PX + 4 if stops else 0.0


def _day(stops: Sequence[Stop]) -> str:
    """Return the day's list, in walking order; nothing where nobody can fish."""
    if not stops:
        return ""
    lines = "".join(f"<li>{html.escape(stop.short)}</li>" for stop in stops)
    return f'<ol class="day">{lines}</ol>'


def _marked(terms: Terms) -> str:
    """Return the marked line on margins switched off, or nothing."""
    if not terms.margins_off:
        return ""
    return f'<p class="off">{html.escape(terms.margins_off)}</p>'


def _short(text: str, length: int = 42) -> str:
    """Return a name that fits the heading."""
    return text if len(text) <= length else text[: length - 1] + "…"


def _flow_words(product: Product, label: str) -> str:
    """Return the flow as a person reads it."""
    told = {str(flow.get("label")): str(flow.get("words")) for flow in _flows(product)}
    return told.get(label, label)


def _flows(product: Product) -> Sequence[dict[str, str]]:
    """Return the report's rows of flows."""
    found = product.report.get("flows") or ()
    return [row for row in found if isinstance(row, dict)]


def _best_rows(product: Product, label: str) -> tuple[list[Row], int]:
    """Return the rows that fit, by score, in river order; and how many were left out."""
    rows = table_rows(product, label)
    water = product.layers["water"]
    best = sorted(rows, key=lambda row: -float(water["score"][row.index]))[:MOST_ROWS]
    kept = {row.index for row in best}
    return [row for row in rows if row.index in kept], len(rows) - len(best)


def _under(product: Product, label: str) -> str:
    """Return the line below the heading."""
    told = under_heading(
        preview=product.preview,
        invented=bool(product.report.get("invented")),
        between=short_between(product.between_at(label), product.markup.plan.units),
    )
    return f'<p class="under">{html.escape(told)}</p>'


def _key() -> str:
    """Return the key."""
    swatch = box(1, 1, 19, 9)
    parts = []
    for kind in (*FISHING, "unknown"):
        style = BY_KIND[kind]
        parts.append(_swatch(filled(swatch, style), style.words.split(":")[0]))
    for kind in ("seam_line", "lane"):
        style = BY_KIND[kind]
        dash = " ".join(f"{max(length * 0.5, 0.1):g}" for length in style.dash)
        line = (
            f'<path d="{path_data(LineString([(1, 5), (19, 5)]))}" stroke="{style.day.ink}" '
            f'stroke-width="1.5" stroke-linecap="round" stroke-dasharray="{dash}"/>'
        )
        parts.append(_swatch(line, style.words))
    return f'<p class="key">{"".join(parts)}</p>'


def _swatch(drawn: str, words: str) -> str:
    """Return one entry of the key."""
    picture = f'<svg width="20" height="10" viewBox="0 0 20 10" aria-hidden="true">{drawn}</svg>'
    return f"<span>{picture} {html.escape(words)}</span>"


def _table(rows: Sequence[Row], units: UnitSystem) -> str:
    """Return the table of the water drawn, with the run each piece belongs to."""
    if not rows:
        return f'<p class="none">{NOTHING}</p>'
    length, speed = LENGTH[units], SPEED[units]
    heads = (
        ("No.", ""), ("Run", ""), ("Deep", length), ("Fast", speed), ("Wade", length),
        ("Cast", length), ("Room", length), ("Tip", ""), ("Min", ""),
    )  # fmt: skip
    head = "".join(
        f'<th scope="col">{name}{f" <small>{unit}</small>" if unit else ""}</th>'
        for name, unit in heads
    )
    body = "".join(
        "<tr>"
        + "".join(
            f"<td>{html.escape(_short(cell, LONGEST_CELL))}</td>"
            for cell in (
                row.marked, row.run,
                row.depth, row.speed, row.stand, row.cast, row.room, row.tip, row.minutes,
            )
        )
        + "</tr>"
        for row in rows
    )  # fmt: skip
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _foot(product: Product, left_out: int, terms: Terms) -> str:
    """Return access, what the signs mean, how water was graded, and the cautions."""
    ways = [
        f"{access.kind}{f' ({_short(access.note, 40)})' if access.note else ''}"
        for access in product.markup.access[:4]
    ]
    kinds = sorted({str(hazard.kind) for hazard in product.markup.hazards})
    told = foot_words(ways, kinds, list(product.layers["asks"]["code"]), left_out)
    return (
        f'<p class="foot">{html.escape(told)}</p>'
        f'<p class="graded">{html.escape(" ".join(p for p in (terms.graded, terms.easy) if p))}</p>'
        f'<p class="caution">{html.escape(ON_SHEETS)}</p>'
    )


def _style(paper: Paper) -> str:
    """Return the style sheet."""
    width, height = paper.inner
    return (
        f"@page{{size:{paper.name};margin:{paper.margin}in}}*{{box-sizing:border-box}}"
        "html{-webkit-print-color-adjust:exact;print-color-adjust:exact}"
        'body{margin:0;background:#fff;color:#000;font:8.6px/1.3 "DejaVu Sans",Verdana,sans-serif}'
        f".sheet{{width:{width:.0f}px;height:{height - 1:.0f}px;overflow:hidden;margin:auto}}"
        "h1{margin:0;font-size:15px;line-height:1.2;display:flex;justify-content:space-between;"
        "border-bottom:2px solid #000}"
        ".day{margin:2px 0;padding:0;list-style:none;font-size:12px;font-weight:700;"
        f"line-height:{DAY_LINE_PX}px}}"
        "p{margin:2px 0}.under{font-size:8px}"
        ".key{display:flex;flex-wrap:wrap;gap:1px 9px;font-size:8px}.key svg{vertical-align:-2px}"
        ".strips{display:flex;gap:6px}.strip{flex:1 1 0;min-width:0;outline:1px solid #999}"
        "table{width:100%;margin-top:3px;border-collapse:collapse}"
        f"td,th{{height:{ROW_PX - 0.5}px;padding:0 2px;text-align:right;white-space:nowrap;"
        "border-bottom:.5px solid #888;font-size:8.2px;line-height:1}"
        "th{border-bottom:1.2px solid #000;font-size:7.4px}"
        "th small{font-weight:400;font-size:6.5px}"
        "td:first-child,th:first-child{text-align:left;font-weight:700}"
        "td:nth-child(2),th:nth-child(2){text-align:left}tbody tr:nth-child(3n){border-bottom:1px "
        "solid #000}.foot,.graded{font-size:7.6px}.off{font-size:8.4px;font-weight:700;"
        "border:1.5px solid #000;padding:1px 3px}.caution{font-size:7.6px;font-weight:700;"
        "border-top:1px solid #000;padding-top:2px}"
        "@media screen{body{background:#777}.sheet{background:#fff;margin:12px auto;"
        f"padding:{paper.margin}in;width:{paper.width}in;height:{paper.height}in;zoom:1.5}}}}"
        "@media screen and (max-width:820px){.sheet{zoom:1;max-width:100vw;height:auto;"
        "overflow-x:auto}}"
    )
