"""The page of days: whole, offline, harmless, and in words that promise nothing."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reachmap.base.words_runs import Mind
from reachmap.gauge.series import HOUR, NOTHING
from reachmap.outputs.days_page import Look, days_page
from reachmap.outputs.palette import FISHING
from tests.browser import DESK, PHONE, running_browser, watched_page
from tests.planner.made import RUNS, made_facts, made_run
from tests.planner.test_days import NOW, days_of, steady

ROOT = Path(__file__).resolve().parents[2]
KINDS = FISHING
LOOK = Look(
    letters={kind: kind[0].upper() for kind in KINDS},
    inks=dict.fromkeys(KINDS, ("#fc3", "#540", "#862", "#fd6")),
    short="People drown wading.",
    cautions=("Nothing here says that any water can be waded.",),
    invented="This river is invented.",
    preview="Quick.",
)


def test_the_page_asks_the_network_for_nothing():
    page = days_page(days_of(), LOOK)
    assert "default-src 'none'" in html.unescape(page)
    for address in re.findall(r'(?:href|src)="([^"]*)"', page):
        assert address.startswith(("#", "data:", "maps/"))
    assert "http" not in page.replace("http-equiv", "")


def test_what_a_user_typed_cannot_become_part_of_the_page():
    evil = "<script>alert(1)</script>\"'><b>{{ 7*7 }}"
    facts = made_facts(
        (replace(RUNS[0], name=evil), replace(RUNS[1], name=f"{evil} 2")),
        name=evil, gauge=evil, accesses=(evil, evil),
    )  # fmt: skip
    page = days_page(days_of(facts, forecast=steady(900), remarks=(evil,)), LOOK)
    assert page.count("<script>") == 1  # our own
    assert "<b>{{" not in page
    assert "{{ 7*7 }}" in page  # left as it was typed


def test_the_page_says_why_how_sure_and_where_to_look_and_promises_nothing():
    page = days_page(days_of(), LOOK)
    for words in (
        "runs in shape at this flow", "Little sure", "Fairly sure", "if no rain comes",
        "official gauge", "closures", "What was assumed", "People drown wading",
        "too few notes", "Clock: America/Los_Angeles",
    ):  # fmt: skip
        assert words in page
    assert not re.search(r"\bsafe(ly)?\b", page, re.IGNORECASE)
    assert "says nothing of whether the river is open" in page


def test_each_run_of_a_day_says_the_one_thing_to_mind():
    minded = made_run("Minded Run", (80,) * 4, mind=str(Mind.ROOM))
    page = days_page(days_of(made_facts((minded,))), LOOK)
    assert "<strong>Mind:</strong> little room behind" in page
    page = days_page(days_of(made_facts((made_run("Plain Run", (80,) * 4),))), LOOK)
    assert "<strong>Mind:</strong> nothing drawn here; your own eyes" in page


def test_no_file_of_the_planner_says_safe():
    word = re.compile(r"\bsafe(ly)?\b(?!-area)", re.IGNORECASE)
    folder = ROOT / "reachmap" / "planner"
    for path in folder.rglob("*"):
        if path.suffix in {".py", ".html", ".css"}:
            text = path.read_text(encoding="utf-8").replace("|safe", "")  # the template's filter
            assert not word.search(text), path


def test_the_hydrograph_shows_the_windows_of_runs_where_they_are():
    found = days_of(forecast=steady(2300))
    page = days_page(found, LOOK)
    wide = page[page.index('class="wide"') : page.index('class="phone"')]
    bars = re.findall(r'<rect class="bar k-(\w+)" x="([\d.]+)"[^>]* width="([\d.]+)"', wide)
    shown = [run for day in found.days for run in day.runs if run.window is not None]
    assert len(bars) == len(shown)
    begin = NOW - np.timedelta64(4, "D")
    light = found.days[-1].light.hours
    assert light is not None
    end = np.datetime64(int(light[1].timestamp()), "s") + 3 * HOUR
    for run in shown:
        assert run.window is not None
        at = 190 + (1180 - 190 - 8) * float((run.window[0] - begin) / (end - begin))
        assert any(abs(float(x) - at) < 0.1 for _, x, _ in bars)


def test_a_reach_without_any_flow_still_makes_a_page():
    none = days_of(record=NOTHING)
    page = days_page(none, LOOK)
    assert "No day can be named" in page
    assert "No reading of the gauge" in page


@pytest.fixture(scope="module")
def browser():
    with running_browser() as opened:
        yield opened


@pytest.mark.browser
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_opens_offline_without_a_word_and_fits(browser, tmp_path, size, scheme):
    path = tmp_path / "days.html"
    path.write_text(days_page(days_of(forecast=steady(2300)), LOOK), encoding="utf-8")
    with watched_page(browser, size, color_scheme=scheme) as watched:
        page = watched.page
        page.goto(path.as_uri())
        assert watched.messages == []
        assert watched.requests == [path.as_uri()]
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        light = page.evaluate("document.documentElement.dataset.light")
        assert light == ("night" if scheme == "dark" else "day")
        page.click("#night")
        assert page.evaluate("document.documentElement.dataset.light") != light
        shown = page.locator(".graph .phone" if size == PHONE else ".graph .wide")
        assert shown.is_visible()
        card = page.locator("details:not([open]) summary").first
        assert card.bounding_box()["height"] >= 44
        card.click()
        assert page.locator("details[open]").count() == 2
