"""Every sentence of the page of waters comes from the catalogue: tried with a made-up language.

The made-up language has each message between marks; letters outside of them have bypassed it.
"""

from __future__ import annotations

import html
import re
from functools import cache
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from reachmap.base.language import Language, written_in
from reachmap.base.words import UnitSystem
from reachmap.markup.waters import Water
from reachmap.outputs.waters_page import waters_page
from reachmap.planner.waters import waters_days
from scripts.messages import TEMPLATE, messages
from tests.planner.made import made_facts, made_run
from tests.planner.test_days import days_of, steady
from tests.planner.test_waters import GOOD, NONE, POOR

NAMES = re.compile(r"\b(?:cfs|ft|m³/s|U[0-9]+|UTC|P[SD]T|https?)\b")
"""What is no sentence: units, and names of clocks."""


@cache
def made_up() -> Language:
    """Return the language whose messages stand between marks."""
    told = {}
    for one in messages():
        if one.id:
            forms = (one.id,) if isinstance(one.id, str) else one.id
            marked = tuple(f"\u27e6{form}\u27e7" for form in forms)
            told[one.id] = marked[0] if isinstance(one.id, str) else marked
    return Language("en_CA", told, "n != 1", "en-CA")


def outside(page: str, own: tuple[str, ...]) -> list[str]:
    """Return the words of a page that stand outside the marks; `own` is what the user typed."""
    text = re.sub(r"(?s)<(style|script).*?</\1>|<!--.*?-->", "", page)
    heard = re.findall(r'(?:aria-label|title|alt|placeholder)="([^"]*)"', text)
    shown = " \n".join([re.sub(r"<[^>]+>", " \n", text), *heard])
    shown = html.unescape(shown)
    while (less := re.sub(r"\u27e6[^\u27e6\u27e7]*\u27e7", " ", shown)) != shown:
        shown = less
    for word in own:
        shown = shown.replace(word, " ")
    shown = re.sub(r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)\b|\bJan\b", " ", shown)  # by the locale
    return re.findall(r"[^\W\d_]{2,}", NAMES.sub(" ", shown))


def boats():
    run = made_run("Slot", (20, 60, 90, 20), way="boat", shut=("no way in",) * 4)
    return days_of(made_facts((run,)), forecast=steady(2400))


WEEKS = {
    "good and poor": ((GOOD, POOR), ()),
    "none": ((NONE,), ()),
    "boat": ((boats(),), ()),
    "failed": ((), (("U1", "U2"),)),
}


@pytest.mark.parametrize("week", WEEKS)
def test_no_sentence_of_the_page_of_waters_bypasses_the_catalogue(week):
    days, failed = WEEKS[week]
    waters = tuple(Water(Path(f"U{n}"), 35.0 + n, note="U5") for n, _ in enumerate(days))
    with written_in(made_up()):
        page = waters_page(
            "U9", waters_days(days, [one.drive_min for one in waters]), waters, days,
            (UnitSystem.US,) * len(days), failed,
        )  # fmt: skip
    names = {one.facts.name for one in days} | {one.facts.gauge for one in days}
    names |= {run.name for one in days for run in one.facts.runs}
    assert outside(page, tuple(sorted(filter(None, names), key=len, reverse=True))) == []
    assert "\u27e6" in page
    assert '<html lang="en-CA">' in page


def test_the_search_finds_a_sentence_that_is_not_in_the_catalogue():
    page = '<p>\u27e6in \u27e6both\u27e7\u27e7 Out of it</p><b aria-label="heard"></b>'
    assert outside(page, ()) == ["Out", "of", "it", "heard"]


def test_the_template_is_current():
    with TEMPLATE.open("rb") as file:
        kept = {one.id for one in read_po(file) if one.id}
    assert kept == {one.id for one in messages() if one.id}, "python -m scripts.messages"
