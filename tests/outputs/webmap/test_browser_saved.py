"""Copies of a page: saved whole, as an archive, opened with scripts off. They must still warn."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from reachmap.outputs.palette import BY_KIND, ramps
from reachmap.outputs.webmap import write_maps
from reachmap.text import cautions
from tests.browser import watched_page
from tests.outputs.made_product import STRICT
from tests.outputs.webmap.steps import SIZES, flow_of, ink, settle, spot, tap

pytestmark = [pytest.mark.browser, pytest.mark.slow]

COUNT = """() => Object.fromEntries(['button', 'input', 'canvas', 'img', '.on-map', '.print-key',
    '.leaflet-pane', '.reading', '.chip', '.switch', '.run-row', '.notice', '.terms', '.still',
    'svg'].map(name => [name, document.querySelectorAll(name).length]))"""


def seen(page, selector):
    """Return the share of the screen in each wanted colour, of what a selector shows."""
    shot = Image.open(io.BytesIO(page.locator(selector).screenshot())).convert("RGB")
    return np.asarray(shot).reshape(-1, 3)


def near(pixels, colour, within=24):
    wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return float((np.abs(pixels.astype(int) - wanted).max(axis=1) <= within).mean())


def still_is_shown(page, units):
    """Check that banner, cautions and water are on the screen, and no dead control."""
    banner = page.locator(".still .notice").first
    assert banner.is_visible()
    assert "This is a still picture of 2,400 cfs." in banner.inner_text()
    assert cautions.STILL_SWITCHES in banner.inner_text()
    text = page.locator("body").inner_text()
    for line in (*cautions.CAUTIONS, cautions.SHORT):
        assert line in text
    pixels = seen(page, ".still-box")
    water = ramps(units)[0].day
    assert sum(near(pixels, tint, 10) for tint in water[2:6]) > 0.02
    assert near(pixels, BY_KIND["hazard"].day.ink) > 0.001
    shown = page.locator("button:visible, input:visible").evaluate_all(
        "all => all.map(e => e.id || e.className)"
    )
    allowed = ("run-name", "cell", "link")
    assert [name for name in shown if not name.startswith(allowed)] == []
    assert not page.locator(".folium-map").is_visible()
    assert not page.locator("#run-list").is_visible()
    assert page.locator(".ledger").is_visible()


@SIZES
def test_with_scripts_off_the_page_shows_the_still_and_warns(browser, maps, product, size):
    with watched_page(browser, size, java_script_enabled=False) as watched:
        watched.page.goto((maps / "index.html").as_uri())
        still_is_shown(watched.page, product.markup.plan.units)
        assert watched.page.locator("noscript").inner_text().startswith("Scripts are switched off")


@SIZES
@pytest.mark.parametrize("where", ["runs", "layers", "card"])
def test_an_archive_saved_from_the_open_page_shows_the_still_and_warns(
    browser_page, browser, maps, product, size, where, tmp_path
):
    page = browser_page(maps / "index.html", size).page
    if where == "layers":
        page.click("#tab-layers")
    if where == "card":
        page.locator(".run-row").first.click()
        page.click("#higher")  # the still is of the flow the page opens with, and says which
        settle(page)
    session = page.context.new_cdp_session(page)
    archive = tmp_path / "saved.mhtml"
    made = session.send("Page.captureSnapshot", {"format": "mhtml"})["data"]
    archive.write_bytes(made.encode("utf-8"))
    with watched_page(browser, size, java_script_enabled=False) as watched:
        watched.page.goto(archive.as_uri())
        still_is_shown(watched.page, product.markup.plan.units)


@SIZES
def test_once_the_script_runs_nothing_of_the_still_is_drawn(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    assert not page.locator(".still").is_visible()
    assert page.locator(".folium-map").is_visible()
    assert page.evaluate("document.querySelectorAll('.leaflet-container img').length") == 1
    assert not page.locator("text=still picture").first.is_visible()


@SIZES
@pytest.mark.parametrize("harm", ["shapes", "book", "library", "legend"])
def test_a_page_whose_script_fails_falls_back_to_the_still(
    browser, maps, product, size, harm, tmp_path
):
    text = (maps / "index.html").read_text(encoding="utf-8")
    if harm == "library":
        broken = text.replace('t.version="1.9.4"', 't.version="1.9.3"')  # its digest differs
    elif harm == "legend":  # found missing only after all is unpacked and the map is shown
        broken = text.replace('"presets":[[', '"lost":[[')
    else:
        broken = re.sub(f'"{harm}":"[^"]{{40}}', f'"{harm}":"{"A" * 40}', text)
    assert broken != text
    path = tmp_path / "broken.html"
    path.write_text(broken, encoding="utf-8")
    with watched_page(browser, size) as watched:
        watched.page.goto(path.as_uri())
        watched.page.wait_for_timeout(700)
        assert watched.page.evaluate("document.documentElement.dataset.reach") != "ready"
        still_is_shown(watched.page, product.markup.plan.units)


@SIZES
@pytest.mark.parametrize("times", [1, 2])
def test_a_saved_copy_works_anew_and_doubles_nothing(
    browser_page, maps, product, size, times, tmp_path
):
    fresh = browser_page(maps / "index.html", size).page
    counted = fresh.evaluate(COUNT)
    page = browser_page(maps / "index.html", size).page
    for number in range(times):
        place, _, _ = spot(product, 1, lambda depth, _: depth > 1.0)
        tap(page, place, size)
        page.click("#higher")
        page.click("#tab-layers")
        page.click("#presets button:nth-child(2)")
        page.click("#night")
        page.evaluate("document.documentElement.classList.add('printing')")
        path = tmp_path / f"saved{number}.html"
        dom = page.evaluate("document.documentElement.outerHTML")
        path.write_text("<!DOCTYPE html>\n" + dom, encoding="utf-8")
        page = browser_page(path, size).page
    assert page.evaluate(COUNT) == counted
    assert page.locator("canvas").count() == counted["canvas"]
    assert flow_of(page) == "2400cfs"
    assert page.locator("#flow-now").inner_text() == "2,400 cfs"
    assert page.locator("#tab-runs").get_attribute("aria-selected") == "true"
    assert page.locator("#page-runs").is_visible()
    assert not page.locator("#page-layers").is_visible()
    assert not page.evaluate("document.documentElement.classList.contains('printing')")
    assert page.evaluate("document.documentElement.dataset.light") == "day"
    assert ink(page) > 2000
    page.click("#lower")
    settle(page)
    assert flow_of(page) == "1200cfs"
    place, _, _ = spot(product, 0, lambda depth, _: depth > 0.8)
    tap(page, place, size)
    assert "deep" in page.locator(".reading-now").inner_text()
    assert page.locator(".reading").count() == 1


@SIZES
def test_a_saved_copy_says_nothing_wrong_and_keeps_its_policy(browser_page, maps, size, tmp_path):
    page = browser_page(maps / "2400cfs.html", size).page
    path = tmp_path / "saved.html"
    dom = page.evaluate("document.documentElement.outerHTML")
    path.write_text("<!DOCTYPE html>\n" + dom, encoding="utf-8")
    watched = browser_page(path, size)
    assert watched.messages == []


def test_the_archive_prints_whole(browser_page, browser, maps, tmp_path):
    page = browser_page(maps / "index.html").page
    made = page.context.new_cdp_session(page).send("Page.captureSnapshot", {"format": "mhtml"})
    archive = tmp_path / "saved.mhtml"
    archive.write_bytes(made["data"].encode("utf-8"))
    with watched_page(browser, java_script_enabled=False) as watched:
        watched.page.goto(archive.as_uri())
        watched.page.emulate_media(media="print")
        cut = watched.page.evaluate(
            """() => ['body', '.panel', '.still'].filter(name => {
            const e = document.querySelector(name);
            const cuts = getComputedStyle(e).overflowY !== 'visible';
            return cuts && e.scrollHeight > e.clientHeight + 1;
            })"""
        )
        assert cut == []
        printed = watched.page.pdf()
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) >= 2


@SIZES
def test_every_card_that_speaks_of_wading_says_for_whom_it_was_graded(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    page.locator(".run-row").first.click()
    assert "Graded for 5 ft 10 in" in page.locator("#page-card .terms").inner_text()
    page.locator(".more > summary").click()
    assert "Place to stand" in page.locator("#page-card").inner_text()
    for kind in ("easy", "careful", "no", "unknown", "station", "inside_bend", "seam"):
        page.evaluate(
            f"""reach.openFeature(reach.features().find(f => f.kind === '{kind}'
            && f.flow === reach.state.flow))"""
        )
        assert "Graded for 5 ft 10 in" in page.locator("#page-card .terms").inner_text(), kind
    page.locator("#page-card .plate-button").first.click()
    for tab in ("runs", "layers", "about"):
        page.click(f"#tab-{tab}")
        if not page.locator("#panel").is_visible():  # a second tap on a phone's tab closes it
            page.click(f"#tab-{tab}")
        assert "Graded for 5 ft 10 in" in page.locator("#panel > .terms").inner_text()


@SIZES
def test_on_paper_the_map_keeps_its_cautions_and_how_it_was_graded(
    browser_page, product, size, tmp_path
):
    strict = replace(product, report={**product.report, "wading_terms": STRICT})
    write_maps(strict, tmp_path)
    page = browser_page(tmp_path / "index.html", size).page
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    text = page.locator("body").inner_text()
    for line in cautions.CAUTIONS:
        assert line in text
    assert "Graded for 5 ft 10 in" in text
    mark = page.locator(".notices .notice-margins")
    assert mark.is_visible()
    assert mark.inner_text().startswith("MARGINS SWITCHED OFF BY YOU: mass 250 kg")
    assert not page.locator(".still").is_visible()
    assert page.locator(".folium-map").is_visible()
