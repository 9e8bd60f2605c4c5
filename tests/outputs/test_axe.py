"""Every page that is read from top to bottom, by day and by night, before all of axe's rules."""

from __future__ import annotations

import pytest

from reachmap.base.words import UnitSystem
from reachmap.outputs.days_page import days_page
from reachmap.outputs.guide_page.page import guide_page
from reachmap.outputs.review_page.page import review_page
from reachmap.outputs.sheet.page import sheet_page
from tests.axe import findings
from tests.browser import DESK, PHONE, running_browser, watched_page
from tests.logbook.test_review import BOTH, season, trip
from tests.outputs.made_product import made_product
from tests.outputs.test_days_page import LOOK
from tests.outputs.test_guide_page import made_guide
from tests.outputs.test_waters_page import page_of
from tests.planner.test_days import days_of, steady

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PAGES = {
    "days": lambda: days_page(days_of(forecast=steady(2300)), LOOK),
    "waters": page_of,
    "guide": lambda: guide_page(made_guide(), UnitSystem.US),
    "review": lambda: review_page(
        season([trip("Sandpiper", 60.0, touches=1)], BOTH), "Reach", UnitSystem.US
    ),
    "sheet": lambda: sheet_page(made_product(), "2400cfs"),
}

UNFOLD = "document.querySelectorAll('details').forEach((one) => (one.open = true))"


@pytest.fixture(scope="module")
def browser():
    with running_browser() as running:
        yield running


@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing_by_day_and_by_night(browser, tmp_path, name):
    path = tmp_path / "page.html"
    path.write_text(PAGES[name](), encoding="utf-8")
    for scheme in ("light", "dark"):
        for size in (DESK, PHONE):
            with watched_page(browser, size, color_scheme=scheme, bypass_csp=True) as watched:
                watched.page.goto(path.as_uri())
                watched.page.evaluate(UNFOLD)
                assert (scheme, size, findings(watched.page)) == (scheme, size, [])
