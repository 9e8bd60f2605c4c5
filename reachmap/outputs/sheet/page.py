"""One sheet as an HTML page for printing or PDF: the two sides of one sheet of paper."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from reachmap.base.language import language, tr
from reachmap.outputs.day_list import day_list
from reachmap.outputs.product import Product
from reachmap.outputs.qr import qr_svg
from reachmap.outputs.sheet.drawing import Shown
from reachmap.outputs.sheet.key import key_of
from reachmap.outputs.sheet.overview import overview
from reachmap.outputs.sheet.panel import RunFacts, run_facts, run_panel
from reachmap.outputs.sheet.paper import LINE_PX, PAPERS, PX_PER_INCH, USUAL
from reachmap.outputs.sheet.sides import panels_a_side, room_for
from reachmap.outputs.sheet.style import sheet_style
from reachmap.text.cautions import ON_SHEETS
from reachmap.text.map_notes import short_between
from reachmap.text.numbers import text_of
from reachmap.text.sheet import (
    CAUTION,
    MOST_SHUT,
    NOTHING,
    ON_PHONE,
    RULES,
    cut,
    foot_words,
    how_to_read,
    key_words,
    more_words,
)
from reachmap.text.today import shut_words
from reachmap.text.wading_terms import terms_of
from reachmap.text.whom import list_for_words

SIGN_PX, BOLD_PX = 6.0, 7.0
"""Assumed width of a character of normal and of bold text [px]: slightly more than the real one."""

PANEL_PX, TALL_PX, TALLEST_PX = 214.0, 360.0, 480.0
"""Least height of a run's panel, the greatest it is stretched to, and the greatest where the rest
of the side would stay empty [px]."""

TITLE_PX = 41.0
"""Height of name, flow and caution at the top of a side [px]."""

KEY_LINES = 4
"""Most lines of the key."""

OVERVIEW_PX = 130.0
"""Least remaining height of a side for the overview [px]."""


QR_MM = 20.0
"""Side of the QR code of the site's URL, including its quiet zone [mm]."""

SIDES = 2
"""Sides of one sheet of paper."""

QR_PX = QR_MM / 25.4 * PX_PER_INCH + 4
"""Height of the QR code and its text [px]."""


@dataclass(slots=True)
class _Sheet:
    """A sheet under construction: size, header, footer, and the letters used in its maps."""

    product: Product
    label: str
    width: float
    height: float
    head: list[str]
    foot: list[str]
    letters: dict[str, str] = field(default_factory=dict)

    def taken(self, lines: Sequence[str], sign_px: float = SIGN_PX) -> float:
        """Return the height of paragraphs [px], rounded up."""
        signs = self.width / sign_px
        return sum(math.ceil(len(line) / signs) * LINE_PX + 2 for line in lines if line)

    def drawn(self, made: tuple[str, Shown]) -> str:
        """Return a drawn part, and add its letters to the key."""
        self.letters |= made[1].letters
        return made[0]


def sheet_page(product: Product, label: str, *, paper: str = "") -> str:
    """Return a flow's sheet as an HTML document with everything in it.

    Parameters
    ----------
    product
        The built reach.
    label
        The flow.
    paper
        A key of `PAPERS`; empty for the default of the folder's units.
    """
    plan = product.markup.plan
    chosen = PAPERS[paper or USUAL[plan.units]]
    terms = terms_of(product.report, plan.units)
    facts = [run_facts(product, label, stop) for stop in day_list(product, label)]
    graded = " ".join(part for part in (terms.graded, terms.easy) if part)
    more = [more_words(_more(product, label)), foot_words(list(product.layers["asks"]["code"]))]
    more.append(list_for_words(plan.outing) if facts else "")
    foot = [" ".join(part for part in more if part), tr(RULES), graded, tr(ON_SHEETS)]
    sheet = _Sheet(product, label, *chosen.inner, [terms.margins_off, _under(product, label)], foot)
    words, aside = _flow_words(product, label), html.escape(tr("pocket sheet"))
    return (
        f'<!doctype html><html lang="{language().name}"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width={chosen.width * PX_PER_INCH:.0f}">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        'style-src \'unsafe-inline\'; img-src data:"><link rel="icon" href="data:,">'
        f"<title>{html.escape(cut(plan.name, 42))}, {html.escape(words)}: {aside}</title>"
        f"<style>{sheet_style(chosen)}</style></head><body><main>{_sides(sheet, facts, words)}"
        "</main></body></html>"
    )


def _sides(sheet: _Sheet, facts: Sequence[RunFacts], flow: str) -> str:
    """Return the sides of a sheet."""
    off, under = sheet.head
    first_px = TITLE_PX + sheet.taken([off], BOLD_PX) + (6 if off else 0) + sheet.taken([under])
    foot_px = sheet.taken(sheet.foot) + KEY_LINES * LINE_PX
    address = sheet.product.markup.plan.site_address
    counts = _counts(sheet, len(facts), first_px, foot_px + (QR_PX if address else 0.0))
    if address and len(counts) > SIDES:  # the QR code must not add a side
        address, counts = "", _counts(sheet, len(facts), first_px, foot_px)
    foot_px += QR_PX if address else 0.0
    parts, done = [], 0
    for side, count in enumerate(counts):
        last = side == len(counts) - 1
        room = sheet.height - (TITLE_PX if side else first_px) - (foot_px if last else 0.0) - 4
        inner = _panels(sheet, facts[done : done + count], room)
        room -= count * _tall(room, count)
        done += count
        if last:
            inner += _rest(sheet, facts, room) + _code_of(address)
        of = tr("{number} of {count}", number=side + 1, count=len(counts))
        number = f" · {of}" if len(counts) > 1 else ""
        parts.append(
            f'<section class="side">{_title(sheet, f"{flow}{number}", first=not side)}{inner}'
            "</section>"
        )
    return "".join(parts)


def _counts(sheet: _Sheet, runs: int, first_px: float, foot_px: float) -> list[int]:
    """Return the number of runs on each side for given heights of header and footer [px]."""
    return panels_a_side(
        runs,
        only=room_for(sheet.height - first_px - foot_px, PANEL_PX),
        first=room_for(sheet.height - first_px, PANEL_PX),
        further=room_for(sheet.height - TITLE_PX, PANEL_PX),
        last=room_for(sheet.height - TITLE_PX - foot_px, PANEL_PX),
    )


def _title(sheet: _Sheet, words: str, *, first: bool) -> str:
    """Return the header of a side; the first also has margins switched off and a reading aid."""
    off, under = sheet.head
    name = html.escape(cut(sheet.product.markup.plan.name, 30))
    title = f"<h1><span>{name}</span><span>{html.escape(words)}</span></h1>"
    if first and off:
        title += f'<p class="off">{html.escape(off)}</p>'
    title += f'<p class="caution">{html.escape(tr(CAUTION))}</p>'
    return title + (f'<p class="under">{html.escape(under)}</p>' if first else "")


def _tall(room: float, count: int) -> float:
    """Return the height of each of `count` panels on a side [px]."""
    if not count:
        return 0.0
    whole = room - count * TALL_PX < OVERVIEW_PX
    return min(room / count, TALLEST_PX if whole else TALL_PX)


def _panels(sheet: _Sheet, facts: Sequence[RunFacts], room: float) -> str:
    """Return the panels of a side."""
    tall = _tall(room, len(facts))
    return "".join(
        sheet.drawn(run_panel(sheet.product, sheet.label, one, (sheet.width, tall)))
        for one in facts
    )


def _rest(sheet: _Sheet, facts: Sequence[RunFacts], room: float) -> str:
    """Return what follows the last run: the overview where there is room, the key, the footer."""
    parts = ""
    if not facts:
        shut = _shut(sheet.product, sheet.label)
        parts = f'<p class="none">{html.escape(tr(NOTHING))}</p>' + "".join(
            f'<p class="shut">{html.escape(line)}</p>' for line in shut
        )
        room -= 28 + sheet.taken(shut)
    if room >= OVERVIEW_PX:
        size = (sheet.width, min(room - 12, sheet.height * 0.6))
        parts += sheet.drawn(overview(sheet.product, sheet.label, facts, size))
    parts += key_of(sheet.product.markup.plan.units, maps=bool(facts))
    classes = ("more", "rules", "graded", "warned")
    lines = [("letters", key_words(sheet.letters)), *zip(classes, sheet.foot, strict=True)]
    return parts + "".join(
        f'<p class="{name}">{html.escape(line)}</p>' for name, line in lines if line
    )


def _code_of(address: str) -> str:
    """Return the QR code of the maps' site; empty where there is none."""
    if not address:
        return ""
    words = f"{html.escape(tr(ON_PHONE))}<br>{html.escape(cut(address, 60))}"
    return f'<div class="qr">{qr_svg(address, side_mm=QR_MM)}<p>{words}</p></div>'


def _more(product: Product, label: str) -> list[str]:
    """Return the codes of the best water of runs that are in shape and not on the list."""
    table = product.runs
    rest = table[(table["flow_label"] == label) & table["in_shape"] & (table["pick"] == 0)]
    best = rest.sort_values("score", ascending=False)
    return [str(code) for code in best["code"] if text_of(code)]


def _shut(product: Product, label: str) -> list[str]:
    """Return the reasons why no run can be fished, the one nearest to being fishable first."""
    table, units = product.runs[product.runs["flow_label"] == label], product.markup.plan.units
    lines = []
    for row in table.sort_values("score", ascending=False).to_dict("records"):
        words = shut_words({str(key): value for key, value in row.items()}, units)
        if words:
            lines.append(f"{cut(str(row['run']))}: {words}.")
    return lines[:MOST_SHUT]


def _under(product: Product, label: str) -> str:
    """Return the line below the heading."""
    return how_to_read(
        preview=product.preview,
        invented=bool(product.report.get("invented")),
        between=short_between(product.between_at(label), product.markup.plan.units),
    )


def _flow_words(product: Product, label: str) -> str:
    """Return the flow in words."""
    found = product.report.get("flows") or ()
    words = {str(one.get("label")): str(one.get("words")) for one in found if isinstance(one, dict)}
    return words.get(label, label)
