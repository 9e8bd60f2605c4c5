"""The page of several waters: whole, offline, harmless, in words that promise nothing."""

from __future__ import annotations

import html
import math
import re
from datetime import date
from pathlib import Path

import pytest

from reachmap.base.words import UnitSystem
from reachmap.markup.waters import Water
from reachmap.outputs.days_page import days_page
from reachmap.outputs.waters_page import waters_page
from reachmap.outputs.waters_page.windows import MOST_RUNS, windows_of
from reachmap.planner.rules import Rule, RuleKind, Rules
from reachmap.planner.waters import waters_days
from tests.browser import DESK, PHONE, running_browser, watched_page
from tests.outputs.test_days_page import LOOK
from tests.planner.made import FLOWS, made_facts, made_run
from tests.planner.test_days import days_of, steady
from tests.planner.test_waters import GOOD, NONE, POOR, standing

US = UnitSystem.US
WATERS = (Water(Path("upper"), 35.0, note="gate shut at night"), Water(Path("low er"), 20.0))


def page_of(week=(GOOD, POOR), waters=WATERS, failed=()):
    drives = [one.drive_min for one in waters]
    units = (US,) * len(week)
    return waters_page("home", waters_days(week, drives), waters, week, units, failed)


def test_the_page_asks_the_network_for_nothing():
    page = page_of()
    assert "default-src 'none'" in html.unescape(page)
    for address in re.findall(r'(?:href|src)="([^"]*)"', page):
        assert address.startswith(("#", "data:", "../"))
    assert "http" not in page.replace("http-equiv", "")


def test_it_leads_to_the_pages_of_each_water():
    page = page_of()
    for address in ("../upper/written/days.html", "../low%20er/written/maps/index.html"):
        assert f'href="{address}"' in page


def test_what_a_user_typed_cannot_become_part_of_the_page():
    evil = "<script>alert(1)</script>\"'><b>{{ 7*7 }}"
    facts = made_facts((made_run(evil, (20, 60, 90, 20)),), name=evil, gauge=evil)
    water = Water(Path(evil.replace("/", "")), 10.0, note=evil)
    page = page_of((days_of(facts, forecast=steady(2400)),), (water,), ((evil, evil),))
    assert page.count("<script>") == 1  # our own
    assert "<b>{{" not in page


def test_a_water_that_failed_is_named_and_no_page_is_ever_without_cautions():
    page = html.unescape(page_of((), (), (("upper", "1 thing to put right"),)))
    assert "upper</bdi> could not be read" in page
    assert "1 thing to put right" in page
    for words in ("People drown wading", "official gauge", "No water can be named"):
        assert words in page


def test_a_water_for_boats_alone_says_so_on_both_pages():
    run = made_run("Slot", (20, 60, 90, 20), way="boat", shut=("no way in",) * 4)
    days = days_of(made_facts((run,)), forecast=steady(2400))
    page = html.unescape(page_of((days,), WATERS[:1]))
    assert "only a boat leads to its runs" in page
    assert "No run of it is known to fish" not in page
    alone = html.unescape(days_page(days, LOOK))
    assert "only a boat leads to its runs" in alone
    assert "No run comes into shape" not in alone


def test_the_water_to_go_to_is_marked_once_a_day():
    table = waters_days((GOOD, POOR), (35.0, 20.0))
    assert sum(bool(day.best) for day in table) > 1
    assert page_of().count("<b>go</b>") == sum(bool(day.best) for day in table)
    assert "<b>go</b>" not in page_of((NONE,), WATERS[:1])


def test_bars_span_half_way_to_the_flows_at_which_a_run_is_out_of_shape():
    windows = windows_of(POOR, US)  # in shape at the two middle flows of four
    low, wide = windows.runs[0].bars[0]
    whole = math.log(FLOWS[3] / FLOWS[0])
    assert low == pytest.approx(100 * math.log(math.sqrt(FLOWS[0] * FLOWS[1]) / FLOWS[0]) / whole)
    assert low + wide == pytest.approx(
        100 * math.log(math.sqrt(FLOWS[2] * FLOWS[3]) / FLOWS[0]) / whole
    )
    assert windows.runs[0].words == "1,200 cfs to 2,400 cfs"


def test_a_run_that_fishes_now_says_so_and_one_that_does_not_does_not():
    runs = (made_run("Low", (80, 20, 20, 20)), made_run("High", (20, 20, 80, 80)))
    days = days_of(made_facts(runs), record=standing(2400))
    assert {one.name: one.now for one in windows_of(days, US).runs} == {"Low": False, "High": True}


def test_a_run_that_is_shut_is_no_bar():
    runs = (made_run("Shut", (80, 80, 80, 80), shut=("", "stand", "stand", "")),)
    bar = windows_of(days_of(made_facts(runs), forecast=steady(2400)), US).runs[0]
    assert len(bar.bars) == 2


def test_a_water_that_the_rules_close_has_no_run_that_fishes_now():
    rule = Rule(RuleKind.CLOSED, date(2031, 1, 1), date(2031, 2, 1))
    open_days = days_of(record=standing(2400))
    shut = days_of(record=standing(2400), rules=Rules((rule,)))
    assert "<b>now</b>" in page_of((open_days,), WATERS[:1])
    page = page_of((shut,), WATERS[:1])
    assert "Closed by the rules on each of these days." in page
    assert "<b>now</b>" not in page
    assert "<b>go</b>" not in page


def test_beyond_the_mapped_flows_no_line_of_now_is_drawn():
    days = days_of(record=standing(9000))
    assert windows_of(days, US).now is None
    assert "nothing is known of it" in page_of((days,), WATERS[:1])


def test_of_many_runs_those_that_offer_most_now_are_shown_and_the_others_counted():
    runs = tuple(made_run(f"R{k}", (40, 50, 40 + k, 40)) for k in range(MOST_RUNS + 3))
    windows = windows_of(days_of(made_facts(runs), record=standing(2400)), US)
    assert len(windows.runs) == MOST_RUNS
    assert windows.others == 3
    assert windows.runs[0].name == f"R{MOST_RUNS + 2}"


@pytest.mark.browser
@pytest.mark.parametrize("size", [DESK, PHONE])
def test_it_fits_the_screen_and_prints_no_message(tmp_path, size):
    path = tmp_path / "index.html"
    path.write_text(page_of((GOOD, POOR)), encoding="utf-8")
    with running_browser() as browser, watched_page(browser, size) as watched:
        page = watched.page
        page.goto(path.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        light = page.evaluate("document.documentElement.dataset.light")
        page.click("#night")
        assert page.evaluate("document.documentElement.dataset.light") != light
        assert watched.messages == []
        assert watched.requests == [path.as_uri()]
