"""The first screen in a real Chromium: the reading, the caution, the list and its numbers."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from playwright.sync_api import expect

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import Gauge, RatingSegment
from reachmap.gauge.record import flow_of_stage
from reachmap.outputs.webmap import write_maps
from reachmap.text import cautions
from tests.outputs.made_product import made_product
from tests.outputs.webmap.steps import SIZES, flow_of, settle, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]

MOST_BUTTONS = 60
"""Buttons in sight before anything is unfolded."""

MOST_WORDS = 500
"""Words in sight before anything is unfolded."""


def rated(product, *, flows=(), ending="2031-02-03"):
    """Return the product with a gauge: 600 cfs at 2 ft, 9,000 cfs at 8 ft, and a record."""
    stage = to_si(np.array([2.0, 4.0, 8.0]), "ft")
    flow = to_si(np.array([600.0, 2400.0, 9000.0]), "cfs")
    times = np.array([ending], dtype="datetime64[s]") + np.arange(len(flows))
    segments = (RatingSegment(stage, flow, 0.0),)
    gauge = Gauge("made", segments, times, to_si(np.array(flows, dtype=float), "cfs"), np.nan)
    return replace(product, markup=replace(product.markup, gauge=gauge))


@pytest.fixture(scope="module")
def rated_product(product):
    return rated(product)


@pytest.fixture(scope="module")
def rated_page(rated_product, tmp_path_factory):
    folder = tmp_path_factory.mktemp("rated")
    return write_maps(rated_product, folder)[0]


def told(page):
    return page.locator("#gauge-told").inner_text()


@SIZES
@pytest.mark.parametrize(
    ("typed", "unit", "flow", "words"),
    [
        ("2400", None, "2400cfs", "The map is at your 2,400 cfs."),
        ("2,400", None, "2400cfs", "The map is at your 2,400 cfs."),
        # a gauge cannot tell it from 2,400: the list is that one's, the water is at the reading
        (
            "2450",
            None,
            "2400cfs",
            "The map is at your 2,450 cfs. Between 2,400 cfs and 4,000 cfs; list of 2,400 cfs.",
        ),
        # 113.3 m3/s are 4,001 cfs: 1 cfs is 0.0283168 m3/s
        ("113.3", "m³/s", "4000cfs", "The map is at your 113.3 m³/s (4,001 cfs)."),
        ("113,3", "m³/s", "4000cfs", "The map is at your 113.3 m³/s (4,001 cfs)."),
        ("4", "ft", "2400cfs", "The map is at your 4 ft (2,400 cfs)."),
        ("4 ft", None, "2400cfs", "The map is at your 4 ft (2,400 cfs)."),
        (
            "1943",
            None,
            "2400cfs",
            "The map is at your 1,943 cfs. Between 1,200 cfs and 2,400 cfs; list of 2,400 cfs: "
            "water about",
        ),
        (
            "9000",
            None,
            "6500cfs",
            "9,000 cfs is above 6,500 cfs, the highest flow drawn: this map says nothing of it.",
        ),
        (
            "900",
            None,
            "1200cfs",
            "900 cfs is below 1,200 cfs, the lowest flow drawn: this map says nothing of it.",
        ),
    ],
)
def test_a_reading_sets_the_flow_and_says_which_is_drawn(
    browser_page, rated_page, size, typed, unit, flow, words
):
    watched = browser_page(rated_page, size)
    type_reading(watched.page, typed, unit)
    assert flow_of(watched.page) == flow
    assert told(watched.page).startswith(words)
    assert watched.messages == []


def test_between_two_flows_the_page_says_how_much_higher_the_water_is_that_its_list_is_for(
    browser_page, rated_page
):
    page = browser_page(rated_page).page
    type_reading(page, "1943")
    levels = page.evaluate("reach.data.flows.map(flow => flow.rise)")
    edges = page.evaluate("reach.data.flows.map(flow => flow.edge)")
    share = np.log(2400 / 1943) / np.log(2400 / 1200)
    fall, inward = (share * (one[1] - one[0]) for one in (levels, edges))
    # the made flows stand 0.5 m apart: 0.3 of that is 0.5 ft
    assert levels[1] - levels[0] == pytest.approx(0.5, abs=0.02)
    assert told(page).endswith(
        f": water about {fall / 0.3048:.1f} ft higher, edges {inward / 0.9144:.0f} yd farther out."
    )


def test_the_page_rates_a_height_as_the_gauge_does(browser_page, rated_page, rated_product):
    page = browser_page(rated_page).page
    gauge = rated_product.markup.gauge
    for feet in (2.1, 2.13, 3.0, 3.97, 5.5, 7.99):
        read = page.evaluate(f"reach.takeReading('{feet} ft', null).flow")
        assert read == pytest.approx(flow_of_stage(gauge, to_si(feet, "ft")), rel=2e-3)
    for feet in (1.5, 8.2):
        assert page.evaluate(f"Number.isNaN(reach.takeReading('{feet} ft', null).flow)")
        type_reading(page, f"{feet} ft")
        assert (
            told(page) == f"{feet} ft is outside the rating of this gauge: its flow is not known."
        )


@SIZES
def test_what_is_no_reading_is_refused_and_changes_nothing(browser_page, rated_page, size):
    watched = browser_page(rated_page, size)
    page = watched.page
    for typed in ("", "high", "12 stone", "-5", "1e400", "<b>1</b>"):
        type_reading(page, typed)
        assert told(page) == "That is no reading: type a number, like 2400."
        assert flow_of(page) == "2400cfs"
        assert page.get_attribute("#gauge-reads", "aria-invalid") == "true"
    assert watched.messages == []


def test_without_a_rating_no_height_is_asked_for(browser_page, maps):
    page = browser_page(maps / "index.html").page
    assert page.locator("#gauge-unit option").all_inner_texts() == ["cfs", "m³/s"]
    type_reading(page, "4 ft")
    assert told(page).startswith("That is no reading")


@SIZES
@pytest.mark.parametrize(
    ("address", "flow", "words"),
    [
        ("#flow=4000cfs", "4000cfs", "The map is at your 4,000 cfs."),
        ("#flow=1943", "2400cfs", "The map is at your 1,943 cfs. Between"),
        ("?flow=113.3m3s", "4000cfs", "The map is at your 113.3 m³/s (4,001 cfs)."),
        ("?flow=4ft", "2400cfs", "The map is at your 4 ft (2,400 cfs)."),
        ("#flow=%E0%A4%A", "2400cfs", "Type what the gauge reads."),
    ],
)
def test_the_address_may_hold_a_reading(browser_page, rated_page, size, address, flow, words):
    watched = browser_page(rated_page, size, address=address)
    assert flow_of(watched.page) == flow
    assert told(watched.page).startswith(words)
    assert watched.messages == []


def test_a_metric_folder_reads_cubic_metres_first(browser_page, tmp_path):
    page = browser_page(write_maps(made_product(units=UnitSystem.METRIC), tmp_path)[0]).page
    assert page.locator("#gauge-unit option").all_inner_texts() == ["m³/s", "cfs"]
    type_reading(page, "113,3")
    assert told(page) == "The map is at your 113.3 m³/s."
    type_reading(page, "2400 cfs")
    # 2,400 cfs are 67.96 m3/s
    assert told(page) == "The map is at your 2,400 cfs (68 m³/s)."
    type_reading(page, "90", "m³/s")
    assert "Between 68 m³/s and 113 m³/s" in told(page)
    assert re.search(r"about 0\.\d m higher", told(page))


def test_the_address_keeps_the_reading_and_the_slider_lets_go_of_it(browser_page, rated_page):
    page = browser_page(rated_page).page
    type_reading(page, "4.5 ft")
    assert page.evaluate("location.hash") == "#flow=4.5ft"
    page.click("#lower")
    settle(page)
    assert told(page) == "Type what the gauge reads."
    assert page.evaluate("location.hash") == "#flow=2400cfs"


def test_the_record_is_the_first_reading_and_says_its_day(browser_page, product, tmp_path):
    path = write_maps(rated(product, flows=(4000.0, 3000.0)), tmp_path)[0]
    page = browser_page(path).page
    assert flow_of(page) == "4000cfs"
    assert told(page).startswith("Record of 2031-02-03: 3,000 cfs. Read the gauge first.")
    assert "Between 2,400 cfs and 4,000 cfs" in told(page)
    assert page.input_value("#gauge-reads") == "3000"


def test_beyond_the_flows_drawn_there_is_no_list(browser_page, rated_page):
    page = browser_page(rated_page).page
    assert page.locator(".is-today").count() > 0
    type_reading(page, "9000")
    assert page.locator(".is-today").count() == 0
    assert page.locator(".pin").count() == 0
    assert "No list for 9,000 cfs" in page.locator("#run-list").inner_text()
    type_reading(page, "2400")
    assert page.locator(".is-today").count() > 0


@SIZES
def test_the_first_screen_holds_flow_caution_list_and_numbers(browser_page, rated_page, size):
    page = browser_page(rated_page, size).page
    wide, tall = size
    for selector in ("#gauge-reads", "#flow-now", "#caution", "#run-list h2", ".folium-map"):
        box = page.locator(selector).first.bounding_box()
        assert box["y"] >= 0, selector
        assert box["y"] + min(box["height"], 60) <= tall, selector
    assert page.locator("#caution").inner_text().startswith(cautions.SHORT)
    panel = page.locator("#panel").bounding_box()
    rows = page.locator(".is-today").all()
    assert len(rows) == 3
    for row in rows:
        box = row.bounding_box()
        assert box["y"] + 44 <= panel["y"] + panel["height"]  # its number and its name
    free = panel["y"] if size[0] < 500 else tall
    for pin in page.locator(".pin .num").all():
        box = pin.bounding_box()
        assert 0 <= box["x"] <= wide - box["width"]
        assert box["y"] + box["height"] <= free
    names = page.locator(".pin-name:not(.no-room)").all_inner_texts()
    assert set(names) <= set(page.locator(".is-today .run-title").all_inner_texts())
    assert len(names) >= 2


@SIZES
def test_the_caution_opens_the_rest(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    page.click("#caution")
    for line in cautions.CAUTIONS:
        expect(page.get_by_text(line)).to_be_visible()
    assert page.evaluate("document.activeElement.id") == "tab-about"


def test_cautions_are_two_hundred_words_at_most():
    words = " ".join((cautions.SHORT, *cautions.CAUTIONS)).split()
    assert len(words) <= 200


@SIZES
def test_few_buttons_and_few_words_before_anything_is_unfolded(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    seen = "e => e.checkVisibility({checkVisibilityCSS: true, checkOpacity: true})"
    buttons = page.evaluate(f"[...document.querySelectorAll('button')].filter({seen}).length")
    assert 10 <= buttons < MOST_BUTTONS
    words = len(page.locator("body").inner_text().split())
    assert 100 <= words < MOST_WORDS
    assert not page.locator(".ledger").is_visible()
    page.locator(".fold-button").first.click()
    assert page.locator(".ledger").is_visible()


def test_a_run_s_card_draws_its_flow_window_with_the_flow_now(browser_page, rated_page):
    page = browser_page(rated_page).page
    page.locator(".run-row.is-today").first.click()
    curve = page.locator(".window-curve")
    expect(curve).to_be_visible()
    expect(curve.locator("figcaption")).to_contain_text("nobody can fish it")
    drawn = curve.locator("path.odds, circle.odds-dot")
    assert drawn.count() >= 1
    assert curve.locator("path.span").count() == drawn.count()
    now = curve.locator("path.now").get_attribute("d")
    type_reading(page, "4000", "cfs")
    assert page.locator(".window-curve path.now").get_attribute("d") != now
