"""How the pages look and hold up in a real Chromium: sight, touch, light, paper, hostile text."""

import re
from dataclasses import replace

import pytest
from playwright.sync_api import expect

from reachmap.base.words import UnitSystem
from reachmap.outputs.webmap import MapSettings, write_maps
from tests.axe import findings
from tests.browser import watched_page
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_log import with_log
from tests.outputs.made_product import made_product
from tests.outputs.webmap.steps import SIZES, spot, tap
from tests.outputs.webmap.test_page import HOSTILE

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@SIZES
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(browser_page, maps, size, scheme):
    page = browser_page(maps / "index.html", size, color_scheme=scheme, bypass_csp=True).page
    for open_first in ("#tab-layers", "#tab-about", "#tab-runs", ".run-row", "#note-button"):
        page.locator(open_first).first.click()
        page.wait_for_timeout(150)
        assert (open_first, findings(page)) == (open_first, [])


@SIZES
def test_everything_to_tap_is_large_enough_for_a_cold_thumb(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    for first in ("#tab-layers", "#tab-about", "#tab-runs", ".run-row", "#note-button"):
        page.locator(first).first.click()
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, summary, input[type=range], .switch')]
            .filter(e => e.offsetParent).map(e => [e.outerHTML.slice(0, 90),
              e.getBoundingClientRect().width, e.getBoundingClientRect().height])
            .filter(([, w, h]) => w < 43.9 || h < 43.9)"""
        )
        assert small == []


@SIZES
def test_day_and_night_follow_the_phone_and_the_button(browser_page, maps, size):
    watched = browser_page(maps / "index.html", size, color_scheme="dark")
    page = watched.page
    dark = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert page.get_attribute("#night", "aria-pressed") == "true"
    page.click("#night")
    light = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert dark != light
    assert page.evaluate("reach.state.light") == "day"
    assert watched.messages == []


def test_where_am_i_tells_a_place_on_the_map_and_off_it(browser_page, maps, product):
    (longitude, latitude), _, _ = spot(product, 1, lambda depth, _: depth > 1)
    here = {"longitude": longitude, "latitude": latitude, "accuracy": 12}
    watched = browser_page(maps / "index.html", geolocation=here, permissions=["geolocation"])
    page = watched.page
    page.get_by_role("button", name="Show where I am").click()
    expect(page.locator(".say")).not_to_be_empty()
    told = re.compile(r"your place is good to 39 ft \(12 m\)$")
    expect(page.locator(".say")).to_have_text(told)
    page.get_by_role("button", name="Show where I am").click()
    assert page.locator(".say").inner_text() == ""
    assert watched.messages == []


def test_without_leave_the_map_says_so_and_goes_on(browser_page, maps):
    page = browser_page(maps / "index.html").page
    page.get_by_role("button", name="Show where I am").click()
    expect(page.locator(".say")).not_to_be_empty()
    assert "refuses your place to a page opened from a file" in page.locator(".say").inner_text()


def test_paper_holds_map_key_runs_and_cautions(browser_page, maps):
    watched = browser_page(maps / "index.html", color_scheme="dark")
    page = watched.page
    before = page.evaluate("[reach.map.getZoom(), reach.map.getCenter().lat]")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    shown = page.locator("body").inner_text()
    assert "People drown wading" in shown
    assert "Every run at every flow" in shown
    assert "What it was made from" in shown
    assert page.locator(".print-key").is_visible()
    assert page.locator(".folium-map").bounding_box()["height"] > 300
    assert not page.locator(".wheel").is_visible()
    assert page.evaluate("reach.state.light") == "day"
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.evaluate("reach.state.light") == "night"
    after = page.evaluate("[reach.map.getZoom(), reach.map.getCenter().lat]")
    assert after == pytest.approx(before, abs=1e-3)
    assert watched.page.pdf(format="Letter", print_background=True).startswith(b"%PDF")
    assert watched.messages == []


@SIZES
def test_hostile_text_stays_text_on_the_page(browser_page, tmp_path, size):
    bad = with_log(with_doubt(made_product(text=HOSTILE), text=HOSTILE), text=HOSTILE)
    write_maps(bad, tmp_path)
    watched = browser_page(tmp_path / "index.html", size)
    page = watched.page
    page.locator(".run-row").first.click()
    assert page.evaluate("window.harmed") is None
    assert page.locator(".card-head h2").inner_text().startswith("</script><img src=x")
    assert page.locator("img[src=x]").count() == 0
    assert "{{7*7}}" in page.locator("h1").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    for tab in ("#tab-layers", "#tab-about", "#tab-runs"):
        page.click(tab)
    assert page.locator(".head").bounding_box()["height"] < 140
    assert watched.messages == []


def test_metric_folders_read_in_metres_first(browser_page, tmp_path):
    write_maps(made_product(units=UnitSystem.METRIC), tmp_path)
    watched = browser_page(tmp_path / "index.html")
    assert "m³/s" in watched.page.locator("#flow-now").inner_text()
    assert watched.page.locator(".bar").first.inner_text().endswith(" m")
    assert watched.page.locator(".ramp em").inner_text() == "m"
    assert watched.messages == []


@SIZES
def test_where_nothing_is_known_all_is_hatched_and_said_unknown(
    browser_page, product, tmp_path, size
):
    flows = product.flows.copy(deep=True)
    flows["wet"].to_numpy()[:] = 2
    for name in ("depth", "level", "east_speed", "north_speed"):
        flows[name].to_numpy()[:] = float("nan")
    layers = {name: frame.iloc[:0] for name, frame in product.layers.items()}
    write_maps(replace(product, flows=flows, layers=layers, report={}), tmp_path)
    watched = browser_page(tmp_path / "index.html", size)
    assert "No runs were found" in watched.page.locator("#run-list").inner_text()
    place, _, _ = spot(product, 1, lambda depth, _: depth > 1)
    tap(watched.page, place, size)
    assert "Unknown" in watched.page.locator(".reading-now").inner_text()
    assert watched.messages == []


def test_imagery_is_asked_for_only_where_the_angler_said(browser, product, tmp_path):
    settings = MapSettings(tile_url="https://tiles.example.org/{z}/{x}/{y}.png")
    path = write_maps(product, tmp_path, settings=settings)[0]
    with watched_page(browser) as watched:
        watched.page.goto(path.as_uri())
        watched.page.wait_for_selector("html[data-reach=ready]", state="attached")
        watched.page.wait_for_timeout(300)
        elsewhere = {url.split("/")[2] for url in watched.requests if url.startswith("http")}
    assert elsewhere == {"tiles.example.org"}


def test_without_scripts_the_table_and_the_cautions_are_there(browser, maps):
    context = browser.new_context(java_script_enabled=False, offline=True)
    page = context.new_page()
    page.goto((maps / "index.html").as_uri())
    words = page.locator("body").inner_text()
    assert "Every run at every flow" in words
    assert "People drown wading and drifting" in words
    assert "Scripts do not run in this copy" in words
    context.close()
