"""The pages in a real Chromium without a network, as one uses them by the river."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser import PHONE
from tests.outputs.webmap.steps import SIZES, flow_of, ink, settle, spot, tap, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@SIZES
def test_it_opens_without_network_or_a_word_of_complaint(browser_page, maps, size):
    for path in sorted(maps.iterdir()):
        watched = browser_page(path, size)
        assert watched.messages == []
        assert ink(watched.page) > 2000
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= size[0]


@SIZES
def test_what_fishes_today_is_one_reading_away(browser_page, maps, product, size):
    page = browser_page(maps / "index.html", size).page
    for label in product.labels:
        words = f"{int(label.removesuffix('cfs')):,} cfs"
        type_reading(page, label.removesuffix("cfs"))
        table = product.runs[product.runs["flow_label"] == label]
        listed = table[table["pick"] > 0].sort_values("pick")
        assert words in page.locator("#run-list h2").first.inner_text()
        shown = page.locator(".is-today .run-title").all_inner_texts()
        assert shown == list(listed["run"])
        numbers = page.locator(".is-today .num").all_inner_texts()
        assert numbers == [str(number) for number in listed["pick"]]
        page.evaluate("document.querySelectorAll('.fold-list').forEach((one) => (one.open = true))")
        expect(page.locator(".run-row")).to_have_count(len(product.layers["runs"]))
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
    assert flow_of(page) == "2400cfs"  # between two flows the higher: it errs on the dry side
    page.evaluate("location.hash = '#flow=nonsense'")
    settle(page)
    assert flow_of(page) == "2400cfs"
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


def test_a_tap_says_the_grade_once_and_leads_to_the_way_in(browser_page, maps, product):
    page = browser_page(maps / "index.html").page
    place, _, _ = spot(product, 1, lambda depth, _: (depth > 1.0) & (depth < 1.1))
    page.evaluate("reach.state.on.add('no').add('careful').add('easy')")
    tap(page, place, (1280, 800))
    told = page.locator(".reading").inner_text()
    assert len(re.findall(r"[Bb]eyond your|[Cc]lose to your|[Ww]ithin your", told)) == 1
    page.get_by_role("button", name="Where one gets in and out here").click()
    expect(page.locator("#page-card")).to_contain_text("Wading:")


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
    for number in range(1, 5):
        page.click(f"#presets button:nth-child({number})")
        seen.append(frozenset(page.evaluate("[...reach.state.on]")))
    assert len(set(seen)) == 4
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
    assert "Number 1 today, at 2,400 cfs" in card.inner_text()
    card.locator(".more > summary").click()
    assert "Start at the top, 40 ft of line" in card.inner_text()
    card.locator(".link").first.click()
    assert "Part of" in card.inner_text()
    assert "How sure" in card.inner_text()
    card.get_by_role("button", name="Back").click()
    assert not card.is_visible()
    assert page.locator("#run-list").is_visible()
    page.locator(".fold-button").first.click()
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
                "return e.id || e.getAttribute('aria-label') ||"
                "e.className.replace(' is-lit', '')})()"
            )
        )
    assert {"night", "gauge-reads", "gauge-unit", "gauge-go", "lower", "flow-range"} <= reached
    assert {"higher", "caution", "tab-runs", "map_reach", "skip-map"} <= reached
    assert {"run-row is-today", "fold-button", "pin", "Closer", "Farther"} <= reached
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
