"""Every sentence of these outputs comes from the catalogue: tried with a made-up language.

The made-up language has each message between marks; letters outside of them have bypassed it.
"""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from babel.messages.pofile import read_po
from icalendar import Calendar

from reachmap.base.language import Language, tr, written_in
from reachmap.base.words import UnitSystem
from reachmap.markup.waters import Water
from reachmap.outputs.calendar import days_calendar
from reachmap.outputs.days_page import days_page
from reachmap.outputs.days_page.write import shared_look
from reachmap.outputs.handheld.content import FileContent
from reachmap.outputs.handheld.files import write_files
from reachmap.outputs.handheld.kml import FOLDERS
from reachmap.outputs.sheet import sheet_page
from reachmap.outputs.waters_page import waters_page
from reachmap.outputs.webmap import write_maps
from reachmap.outputs.webmap.assets import HERE, SCRIPTS
from reachmap.outputs.webmap.encode import unpacked
from reachmap.planner.waters import waters_days
from reachmap.text.days_list import days_lines
from reachmap.text.page_words import PAGE
from scripts.messages import TEMPLATE, messages
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_log import with_log
from tests.outputs.made_product import made_product
from tests.planner.made import made_facts, made_run
from tests.planner.test_days import days_of, steady
from tests.planner.test_waters import GOOD, NONE, POOR

TEMPLATES = HERE / "templates"

NAMES = re.compile(r"(?:\b|(?<=\d))(?:cfs|in|ft|ft/s|ft2/s|m³/s|U[0-9]+|UTC|P[SD]T|https?)\b")
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


def heard_outside(texts: Iterable[str], own: tuple[str, ...]) -> list[str]:
    """Return the words of plain texts that stand outside the marks."""
    return outside(html.escape("\n".join(texts)), own)


def handed(value: Any, name: str = "") -> Iterator[str]:
    """Yield what a page's script is handed to show: all text but names that only it reads."""
    if isinstance(value, dict):
        for key, one in value.items():
            if key not in UNSHOWN and not ("fixed" in value and key in PAIRS):  # a switch's
                yield from handed(one, key)
    elif isinstance(value, list):
        named = name in PAIRS and all(isinstance(one, str) for one in value)
        for one in value[1:] if named else value:
            yield from handed(one, name)
    elif isinstance(value, str) and not value.startswith("#"):
        yield value


UNSHOWN = {
    *("map", "reach", "locale", "of", "label", "unit", "shape", "pattern", "kind", "mark"),
    *("name", "water", "bank", "instead", "lines", "log", "book", "rasters", "shapes"),
}
"""What only scripts read, what the user typed, and sentences of the report, which no build made."""

PAIRS = {"presets", "kinds", "structures"}
"""Lists whose rows begin with a name that only scripts read."""


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


OWN = (
    *("Made-up reach", "Made river", "Room for four cars", "Gravel ramp", "Four-foot step"),
    *("Cottonwood down since spring", "under the third alder", "10 ft of T-11", "of T-11", "yd"),
    "thirteen foot seven, 24 ft head",
    *("a river line and 4 bank polygons", "edges of the water seen at 2 flows", "25 soundings"),
    *("a 1 m height model flown at 900", "Height of the brush taken as 10"),
    *("Twelve beds that your notes allow were run.", "The least sure flow is the highest."),
    "No depth was measured on the outside of the last bend.",
)
"""What the made product's user typed, and sentences of its report that no build made."""


@pytest.fixture(scope="module")
def made():
    with written_in(made_up()):
        yield with_log(with_doubt(made_product()))


def names_of(product) -> tuple[str, ...]:
    runs = {str(name) for name in product.layers["runs"]["run"]}
    return (*sorted(runs, key=len, reverse=True), *OWN)


def test_no_sentence_of_the_map_bypasses_the_catalogue(made, tmp_path):
    with written_in(made_up()):
        path = write_maps(made, tmp_path)[0]
    page, own = path.read_text(encoding="utf-8"), names_of(made)
    assert outside(page, own) == []
    assert '<html lang="en-CA" class="plain">' in page
    found = re.search(r'id="reach-data">(.*?)</script>', page, re.DOTALL)
    data = json.loads(found[1])
    packed = json.loads(unpacked(data["book"]).tobytes())
    del data["sure"]  # rasters
    packed["features"] = packed["features"]["label"]
    texts = {*handed(data), *handed(packed["cards"]), *handed(packed["runs"])}
    assert heard_outside({*texts, *packed["features"]}, own) == []


def test_no_sentence_of_a_pocket_sheet_bypasses_the_catalogue(made):
    with written_in(made_up()):
        pages = [sheet_page(made, label) for label in made.labels]
    for page in pages:
        assert outside(page, names_of(made)) == []
        assert '<html lang="en-CA">' in page


def test_no_sentence_of_files_for_a_gps_or_a_phone_bypasses_the_catalogue(made, tmp_path):
    made = replace(made, report={**made.report, "cards": {}})  # lines that no build made
    kept: list[FileContent] = []

    def keep(content: FileContent) -> str:
        kept.append(content)
        return ""

    with written_in(made_up()):
        write_files(made, tmp_path, "gpx", keep, long_names=False, labels=None)
        folders = [tr(title) for title in FOLDERS.values()]
    texts = {text for one in kept for text in (one.about, one.title.partition(": ")[2])}
    for thing in (thing for one in kept for thing in one.all()):
        texts |= {thing.comment, thing.about}
        for spot in getattr(thing, "spots", ()):
            texts |= {spot.comment, spot.about}
    assert heard_outside([*texts, *folders], names_of(made)) == []


def test_no_sentence_of_the_calendar_bypasses_the_catalogue():
    days, names = GOOD, {run.name for run in GOOD.facts.runs} | {GOOD.facts.name}
    with written_in(made_up()):
        found = Calendar.from_ical(days_calendar(days, UnitSystem.US))
    texts = [str(one[name]) for one in found.walk("VEVENT") for name in ("SUMMARY", "DESCRIPTION")]
    assert texts
    assert heard_outside(texts, tuple(sorted(names, key=len, reverse=True))) == []


@pytest.mark.parametrize("days", [GOOD, POOR, NONE, boats()], ids=["good", "poor", "none", "boat"])
def test_no_sentence_of_the_days_bypasses_the_catalogue_on_page_and_terminal(days):
    with written_in(made_up()):
        page = days_page(days, shared_look(days, UnitSystem.US))
        lines = days_lines(days, UnitSystem.US)
    typed = {days.facts.name, days.facts.gauge}
    typed |= {name.partition(", ")[2] for name in days.facts.accesses}
    typed |= {run.name for run in days.facts.runs}
    own = tuple(sorted(filter(None, typed), key=len, reverse=True))
    assert outside(page, own) == []
    assert heard_outside(lines, own) == []
    assert '<html lang="en-CA">' in page


LITERAL = re.compile(r"\"((?:[^\"\\\\]|\\\\.)*)\"|'((?:[^'\\\\]|\\\\.)*)'|`([^`]*)`")
CODE = re.compile(
    r"class|<svg|querySelector|matchMedia|setAttribute\(\"aria-(?!label)|addEventListener|"
    r"\bcalc\(|linear-gradient|WRITING|event\.key|map\.on\(|Pairs|\.split\(\" \"\)|Error\("
)
"""Lines whose literals are no words for a reader: marks of the page, selectors, styles, faults."""


def spoken(script: str) -> list[str]:
    """Return the literals of a script that read like words for a person."""
    found = []
    for line in script.split("\n"):
        code = re.sub(r"(^|\s)//.*", "", line)
        if CODE.search(code):
            continue
        for groups in LITERAL.findall(code):
            text = "".join(groups)
            if re.search(r"[A-Z][a-z]+ [a-z]|[a-z]{2,} [a-z]{2,} [a-z]|^[A-Z][a-z]+$", text):
                found.append(text)
    return found


def test_no_script_of_the_map_holds_a_sentence():
    scripts = {name: spoken((TEMPLATES / name).read_text("utf-8")) for name in SCRIPTS}
    assert {name: texts for name, texts in scripts.items() if texts} == {}
    assert spoken('say.append(make("p", "", "Treat it as deep"));') == ["Treat it as deep"]


def first_argument(code: str) -> str:
    depth = 0
    for at, sign in enumerate(code):
        if depth == 0 and sign in ",)":
            return code[:at]
        depth += {"(": 1, "[": 1, ")": -1, "]": -1}.get(sign, 0)
    return code


def test_every_name_that_a_script_asks_for_has_words():
    asked = set()
    for name in SCRIPTS:
        script = (TEMPLATES / name).read_text("utf-8")
        for call in re.finditer(r"\btr\(", script):
            asked |= set(re.findall(r'"(\w+)"', first_argument(script[call.end() :])))
    assert asked == set(PAGE)


def test_the_search_finds_a_sentence_that_is_not_in_the_catalogue():
    page = '<p>\u27e6in \u27e6both\u27e7\u27e7 Out of it</p><b aria-label="heard"></b>'
    assert outside(page, ()) == ["Out", "of", "it", "heard"]


def test_the_template_is_current():
    with TEMPLATE.open("rb") as file:
        kept = {one.id for one in read_po(file) if one.id}
    assert kept == {one.id for one in messages() if one.id}, "python -m scripts.messages"
