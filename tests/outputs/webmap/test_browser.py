"""The pages in a real Chromium without a network, as one uses them by the river."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import expect
from pyproj import Transformer

from reachmap.base.words import UnitSystem
from reachmap.outputs.webmap import MapSettings, write_maps
from tests.browser import DESK, PHONE, watched_page
from tests.outputs.made_product import made_product
from tests.outputs.webmap.test_page import HOSTILE

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SIZES = pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
AXE = Path(__file__).parent / "vendor" / "axe.min.js"


def settle(page):
    """Wait until the flow asked for is drawn."""
    page.wait_for_timeout(150)


def flow_of(page):
    return page.evaluate("reach.data.flows[reach.state.flow].label")


def ink(page):
    """Return how many px of the canvas are drawn on."""
    return page.evaluate(
        """() => {const c = document.querySelector('.leaflet-overlay-pane canvas');
        const p = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
        let n = 0; for (let i = 3; i < p.length; i += 4) n += p[i] > 0; return n;}"""
    )


def spot(product, flow, want):
    """Return longitude and latitude of a cell of a flow, with its depth and speed."""
    depth, wet = product.flows["depth"].to_numpy()[flow], product.flows["wet"].to_numpy()[flow]
    speed = np.hypot(
        product.flows["east_speed"].to_numpy()[flow], product.flows["north_speed"].to_numpy()[flow]
    )
    rows, columns = np.nonzero(want(depth, wet))
    row, column = rows[len(rows) // 2], columns[len(rows) // 2]
    place = Transformer.from_crs(product.markup.crs, "EPSG:4326", always_xy=True).transform(
        float(product.flows["x"][column]), float(product.flows["y"][row])
    )
    return place, float(depth[row, column]), float(speed[row, column])


def tap(page, place, size):
    """Bring a place to the middle of the map and tap it."""
    longitude, latitude = place
    if size == PHONE and page.locator("#panel").is_visible():
        page.click("[role=tab][aria-selected=true]")
    if page.locator(".reading").count():
        page.click(".reading .plate-button")
    page.evaluate(f"reach.map.setView([{latitude}, {longitude}], 19, {{animate: false}})")
    box = page.locator(".folium-map").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    if size == PHONE:
        page.touchscreen.tap(x, y)
    else:
        page.mouse.click(x, y)
    page.wait_for_selector(".reading")
    page.wait_for_timeout(400)  # two taps within a third of a second are one double tap


@SIZES
def test_it_opens_without_network_or_a_word_of_complaint(browser_page, maps, size):
    for path in sorted(maps.iterdir()):
        watched = browser_page(path, size)
        assert watched.messages == []
        assert ink(watched.page) > 2000
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= size[0]


@SIZES
def test_what_fishes_today_is_one_tap_away(browser_page, maps, product, size):
    page = browser_page(maps / "index.html", size).page
    table = product.report["runs_by_flow"]
    for label in product.labels:
        words = f"{int(label.removesuffix('cfs')):,} cfs"
        page.locator("#page-runs .chip", has_text=words).click()
        settle(page)
        good = [row["run"] for row in table if row["flow_label"] == label and row["in_shape"]]
        heading = page.locator("#run-list h2").first.inner_text()
        assert words in heading
        shown = page.locator(".run-row:not(.is-no) .run-title").all_inner_texts()
        assert sorted(shown) == sorted(good)
        left = page.locator(".run-row.is-no .run-title").all_inner_texts()
        assert len(left) + len(shown) == len(product.layers["runs"])
        assert page.evaluate("location.hash") == f"#flow={label}"


@SIZES
def test_flow_switches_by_buttons_slider_keys_and_address(browser_page, maps, size):
    watched = browser_page(maps / "index.html", size, address="#flow=4000cfs")
    page = watched.page
    assert flow_of(page) == "4000cfs"
    page.click("#higher")
    settle(page)
    assert flow_of(page) == "6500cfs"
    assert page.locator("#higher").is_disabled()
    for _ in range(3):
        page.click("#lower")
    settle(page)
    assert flow_of(page) == "1200cfs"
    assert page.locator("#flow-now").inner_text() == "1,200 cfs"
    page.focus("#flow-range")
    page.keyboard.press("ArrowRight")
    settle(page)
    assert flow_of(page) == "2400cfs"
    assert page.get_attribute("#flow-range", "aria-valuetext") == "2,400 cfs"
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("ArrowRight")
    settle(page)
    assert flow_of(page) == "4000cfs"
    page.evaluate("location.hash = '#flow=1300'")
    settle(page)
    assert flow_of(page) == "1200cfs"
    page.evaluate("location.hash = '#flow=nonsense'")
    settle(page)
    assert flow_of(page) == "1200cfs"
    assert watched.messages == []


@SIZES
def test_a_tap_reads_depth_and_speed_here(browser_page, maps, product, size):
    watched = browser_page(maps / "index.html", size)
    page = watched.page
    place, depth, speed = spot(product, 1, lambda depth, _: (depth > 1.0) & (depth < 1.1))
    tap(page, place, size)
    said = page.locator(".reading-now").inner_text()
    feet, metres = re.search(r"([\d.]+) ft \(([\d.]+) m\) deep", said).groups()
    assert float(metres) == pytest.approx(depth, abs=0.11)
    assert float(feet) == pytest.approx(depth / 0.3048, abs=0.22)
    assert float(re.search(r"([\d.]+) m/s", said)[1]) == pytest.approx(speed, abs=0.11)
    page.locator(".reading summary").click()
    expect(page.locator(".reading tr")).to_have_count(4)
    expect(page.locator(".reading tr").last.locator("td").first).not_to_be_empty()
    told = page.locator(".reading tr").all_inner_texts()
    assert [row.split("\t")[0] for row in told] == [
        "1,200 cfs",
        "2,400 cfs",
        "4,000 cfs",
        "6,500 cfs",
    ]
    page.click("#higher")
    settle(page)
    deeper = float(re.search(r"\(([\d.]+) m\) deep", page.locator(".reading-now").inner_text())[1])
    assert deeper > float(metres)
    page.click(".reading .plate-button")
    assert page.locator(".reading").count() == 0
    assert watched.messages == []


@SIZES
def test_unknown_is_said_unknown_and_dry_dry(browser_page, maps, product, size):
    page = browser_page(maps / "index.html", size).page
    place, _, _ = spot(product, 1, lambda _, wet: wet == 2)
    tap(page, place, size)
    assert page.locator(".reading-now").inner_text().startswith("Unknown: treat it as deep")
    assert "Not known" in page.locator(".reading .links").inner_text()
    place, _, _ = spot(product, 1, lambda _, wet: wet == 0)
    tap(page, place, size)
    assert "Dry ground at 2,400 cfs" in page.locator(".reading-now").inner_text()
    tap(page, (place[0] + 1.0, place[1]), size)
    assert "Outside the mapped ground: unknown" in page.locator(".reading-now").inner_text()


@SIZES
def test_water_nobody_knows_is_hatched_whatever_is_switched(browser_page, maps, product, size):
    page = browser_page(maps / "index.html", size).page
    place, _, _ = spot(product, 1, lambda _, wet: wet == 2)
    page.evaluate(f"reach.map.setView([{place[1]}, {place[0]}], 19, {{animate: false}})")
    page.click("#tab-layers")
    for switch in page.locator("#switches input:not(:disabled)").all():
        if switch.is_checked():
            page.locator(f'[data-layer="{switch.get_attribute("data-layer")}"]').click()
    page.evaluate("reach.sheet.draw()")
    colours = page.evaluate(
        """(place) => {const s = reach.sheet, v = s.view(), c = s._container;
        const p = reach.map.latLngToLayerPoint(place).subtract(s._bounds.min);
        const px = c.getContext('2d').getImageData((p.x - 14) * v.ratio, (p.y - 14) * v.ratio,
          28 * v.ratio, 28 * v.ratio).data;
        const seen = new Set(); for (let i = 0; i < px.length; i += 4)
          seen.add([px[i], px[i+1], px[i+2]].map(x => x >> 4).join());
        return [...seen];}""",
        [place[1], place[0]],
    )
    told = page.evaluate("reach.data.legend.styles.find(s => s.kind === 'unknown_water').day")
    for colour in (told["ink"], told["fill"]):
        sixteenths = ",".join(str(int(colour[i : i + 2], 16) >> 4) for i in (1, 3, 5))
        assert sixteenths in colours
    fixed = page.locator('[data-layer="unknown_water"]')
    assert fixed.is_disabled()
    assert fixed.is_checked()


@SIZES
def test_every_layer_switch_and_preset_changes_the_map(browser_page, maps, size):
    watched = browser_page(maps / "index.html", size)
    page = watched.page
    page.evaluate("reach.map.setZoom(reach.map.getZoom() + 2, {animate: false})")
    page.click("#tab-layers")
    seen = []
    for number in range(1, 4):
        page.click(f"#presets button:nth-child({number})")
        seen.append(frozenset(page.evaluate("[...reach.state.on]")))
    assert len(set(seen)) == 3
    for switch in page.locator("#switches input:not(:disabled)").all():
        name = switch.get_attribute("data-layer")
        before = page.evaluate("reach.state.on.size")
        page.locator(f'[data-layer="{name}"]').click()
        assert page.evaluate("reach.state.on.size") != before, name
    assert watched.messages == []


@SIZES
def test_the_water_is_coloured_by_depth_speed_or_not_at_all(browser_page, maps, size):
    watched = browser_page(maps / "index.html", size)
    page = watched.page
    if size == PHONE:
        page.click("#tab-runs")
    picture = {}
    for name in ("speed", "plain", "depth"):
        page.click(f'[data-water="{name}"]')
        page.wait_for_timeout(200)
        picture[name] = page.locator(".folium-map").screenshot()
        assert page.get_attribute(f'[data-water="{name}"]', "aria-pressed") == "true"
    assert len(set(picture.values())) == 3
    assert "ft" in page.locator(".ramp").inner_text()
    assert watched.messages == []


@SIZES
def test_cards_of_runs_and_things_open_and_close(browser_page, maps, product, size):
    watched = browser_page(maps / "index.html", size)
    page = watched.page
    page.locator(".run-row").first.click()
    card = page.locator("#page-card")
    name = page.locator(".card-head h2").inner_text()
    assert name in list(product.layers["runs"]["run"])
    assert page.evaluate("document.activeElement.textContent") == name
    assert "In shape at 2,400 cfs" in card.inner_text()
    assert "Start at the top, 40 ft of line" in card.inner_text()
    card.locator(".link").first.click()
    assert "Part of" in card.inner_text()
    assert "How sure" in card.inner_text()
    card.get_by_role("button", name="Back").click()
    assert not card.is_visible()
    assert page.locator("#run-list").is_visible()
    page.locator('.cell[data-run="1"][data-flow="3"]').click()
    settle(page)
    assert flow_of(page) == "6500cfs"
    assert card.is_visible()
    card.locator(".strip .chip").first.click()
    settle(page)
    assert flow_of(page) == "1200cfs"
    assert card.is_visible()
    assert watched.messages == []


def test_the_keyboard_alone_reaches_all_of_it(browser_page, maps):
    watched = browser_page(maps / "index.html")
    page = watched.page
    reached = set()
    for _ in range(90):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                "(() => {const e = document.activeElement;"
                "return e.id || e.getAttribute('aria-label') || e.className})()"
            )
        )
    assert {"night", "lower", "flow-range", "higher", "tab-runs", "map_reach"} <= reached
    assert {"chip", "run-row", "run-name", "Closer", "Farther"} <= reached
    assert {"Show where I am", "Show the whole reach"} <= reached
    page.focus("#tab-runs")
    page.keyboard.press("ArrowRight")
    assert page.get_attribute("#tab-layers", "aria-selected") == "true"
    page.focus("#map_reach")
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(400)
    assert flow_of(page) == "2400cfs"
    page.keyboard.press("Enter")
    page.wait_for_selector(".reading")
    page.keyboard.press("Escape")
    assert page.locator(".reading").count() == 0
    assert watched.messages == []


@SIZES
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious(browser_page, maps, size, scheme):
    """axe-core 4.14.1 (npm, MPL-2.0) is the outside judge."""
    page = browser_page(maps / "index.html", size, color_scheme=scheme, bypass_csp=True).page
    page.evaluate(AXE.read_text(encoding="utf-8"))
    for open_first in ("#tab-layers", "#tab-about", "#tab-runs", ".run-row"):
        page.locator(open_first).first.click()
        page.wait_for_timeout(150)
        result = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        grave = [
            (
                v["id"],
                v["impact"],
                v["nodes"][0]["html"][:160],
                v["nodes"][0]["failureSummary"][:300],
            )
            for v in result["violations"]
            if v["impact"] in ("serious", "critical", "moderate")
        ]
        assert grave == []
        assert len(result["passes"]) > 20


@SIZES
def test_everything_to_tap_is_large_enough_for_a_cold_thumb(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    for first in ("#tab-layers", "#tab-about", "#tab-runs", ".run-row"):
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
    assert page.locator(".say").inner_text() == "You are here, give or take 39 ft (12 m)."
    page.get_by_role("button", name="Show where I am").click()
    assert page.locator(".say").inner_text() == ""
    assert watched.messages == []


def test_without_leave_the_map_says_so_and_goes_on(browser_page, maps):
    page = browser_page(maps / "index.html").page
    page.get_by_role("button", name="Show where I am").click()
    expect(page.locator(".say")).not_to_be_empty()
    assert "may not say" in page.locator(".say").inner_text() or "could not" in (
        page.locator(".say").inner_text()
    )


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
    write_maps(made_product(text=HOSTILE), tmp_path)
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
    assert "The map needs scripts" in words
    context.close()
