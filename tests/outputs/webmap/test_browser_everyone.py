"""The page for everyone: changes, no motion, own colours, keyboard alone, large type, cards."""

from __future__ import annotations

import io
import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from reachmap.outputs.webmap import write_maps
from tests.browser import DESK, PHONE
from tests.outputs.made_doubt import with_doubt
from tests.outputs.webmap.steps import SIZES, settle, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]

LINES = [
    "Stand",
    "Cast",
    "Tip, fly, mend",
    "Step and pace",
    "How long",
    "Way in and back",
    "What lies below",
]

SOLVER = re.compile(
    r"solve|ensemble|manning|interpolat|\bcells?\b|\brms\b|root mean|iteration|\bcycles?\b|"
    r"\bengines?\b|2-D|\bmesh\b|\bgrid\b|hydraulic|posterior|membership",
    re.IGNORECASE,
)

OLD_EDGE = """() => {const c = document.querySelector('.leaflet-overlay-pane canvas');
    const p = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
    let n = 0; for (let i = 0; i < p.length; i += 4)
      n += Math.abs(p[i] - 0xb3) < 6 && Math.abs(p[i+1] - 0x46) < 6 && Math.abs(p[i+2] - 0x0a) < 6;
    return n;}"""


def test_a_change_of_flow_says_who_is_new_gone_or_moved(browser_page, maps, product):
    page = browser_page(maps / "index.html", address="#flow=1200cfs").page
    assert page.locator("#said").inner_text() == ""
    type_reading(page, "2400")
    runs = product.runs
    before, now = (
        set(runs[(runs["flow_label"] == label) & (runs["pick"] > 0)]["run"])
        for label in ("1200cfs", "2400cfs")
    )
    assert len(now - before) == len(before - now) == 1
    assert page.locator("#said").inner_text().startswith("At 2,400 cfs: +1 new, 1 gone")
    page.wait_for_timeout(3300)  # several changes at a go count as one
    type_reading(page, "4000")
    # how far the best water of a run moved, by the distance of its middle from the river line
    line, water = product.markup.main.line, product.layers["water"]
    moved = {}
    for run, mine in runs[runs["pick"] > 0].groupby("run"):
        rows = mine.set_index("flow_label")
        if not {"2400cfs", "4000cfs"} <= set(rows.index):
            continue
        far = [
            line.distance(
                water[
                    (water["flow_label"] == label) & (water["code"] == rows.loc[label, "code"])
                ].geometry.iloc[0].centroid
            )
            for label in ("2400cfs", "4000cfs")
        ]  # fmt: skip
        moved[run] = far[1] - far[0]
    said = page.locator("#said").inner_text()
    run, yards, way = re.search(
        r", ([\w ]+) moves (\d+) yd (in to|out from) its bank", said
    ).groups()
    # the line as drawn has chords a metre off the bends
    assert float(yards) == pytest.approx(abs(moved[run]) / 0.9144, abs=1.0)
    assert way == ("in to" if moved[run] > 0 else "out from")


@SIZES
def test_the_old_edge_is_dashed_for_three_seconds(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    page.evaluate("reach.state.on.delete('hazard'); reach.sheet.draw()")
    quiet = page.evaluate(OLD_EDGE)
    page.click("#higher")
    settle(page)
    assert page.evaluate("reach.state.old") == 1
    assert page.evaluate(OLD_EDGE) > quiet + 300
    page.wait_for_timeout(3300)
    assert page.evaluate("reach.state.old") == -1
    assert page.evaluate(OLD_EDGE) <= quiet + 20


def test_nothing_comes_and_goes_where_motion_is_not_wanted(browser_page, maps):
    page = browser_page(maps / "index.html", reduced_motion="reduce").page
    page.click("#higher")
    settle(page)
    assert page.evaluate("reach.state.old") == -1
    assert page.locator("#said").inner_text().startswith("At 4,000 cfs")
    first = page.screenshot()
    page.wait_for_timeout(3300)
    assert page.screenshot() == first
    moving = page.evaluate(
        """() => document.getAnimations().filter(a => a.playState === 'running').length"""
    )
    assert moving == 0


def colour_in(page, locator, x, y):
    """Return the colour on the screen at a place in an element: shares of its width and height."""
    box = locator.bounding_box()
    clip = {"x": box["x"] + x * box["width"] - 1, "y": box["y"] + y * box["height"] - 1}
    shot = page.screenshot(clip=clip | {"width": 2, "height": 2})
    return Image.open(io.BytesIO(shot)).convert("RGB").getpixel((0, 0))


@SIZES
def test_own_colours_keep_what_is_pressed_chosen_and_lit(browser_page, maps, size):
    page = browser_page(maps / "index.html", size, forced_colors="active").page
    page.locator(".is-today").first.focus()
    rows, pins = page.locator(".is-today"), page.locator(".pin .num")
    assert colour_in(page, rows.nth(0), 0.95, 0.1) != colour_in(page, rows.nth(1), 0.95, 0.1)
    assert colour_in(page, pins.nth(0), 0.5, 0.15) != colour_in(page, pins.nth(1), 0.5, 0.2)
    page.locator("#tab-layers").click()
    low, edge = (0.5, 0.98 if size == DESK else 0.02), (0.1, 0.15)
    pairs = [
        ("#tab-layers", "#tab-runs", low),
        ("#presets [aria-pressed=true]", "#presets [aria-pressed=false]", edge),
        ('[data-layer="inside_bend"]', '[data-layer="tailout_line"]', (0.5, 0.15)),
    ]
    if size == DESK:
        pairs.append(("[data-water=depth]", "[data-water=speed]", edge))
    for on, off, place in pairs:
        seen = []
        for one in (on, off):
            page.locator(one).first.scroll_into_view_if_needed()
            seen.append(colour_in(page, page.locator(one).first, *place))
        assert seen[0] != seen[1], on


def test_the_first_stop_skips_to_the_map(browser_page, maps):
    page = browser_page(maps / "index.html").page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "skip-map"
    expect(page.locator("#skip-map")).to_be_in_viewport()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "map_reach"


def test_the_table_is_one_stop_for_the_keyboard(browser_page, maps):
    page = browser_page(maps / "index.html").page
    page.locator(".fold-button").first.focus()
    page.keyboard.press("Enter")
    stops = 0
    for _ in range(12):
        page.keyboard.press("Tab")
        stops += page.evaluate("document.activeElement.closest('.table-box') !== null")
    assert stops == 1
    page.locator(".ledger [tabindex='0']").focus()
    place = "(e => [e.dataset.run, e.dataset.flow])(document.activeElement)"
    assert page.evaluate(place) == ["0", None]
    for key, wanted in (
        ("ArrowRight", ["0", "0"]),
        ("ArrowRight", ["0", "1"]),
        ("ArrowDown", ["1", "1"]),
        ("End", ["1", "3"]),
        ("Home", ["1", None]),
        ("ArrowUp", ["0", None]),
        ("ArrowUp", ["0", None]),
    ):
        page.keyboard.press(key)
        assert page.evaluate(place) == wanted
    page.keyboard.press("End")
    page.keyboard.press("Enter")
    settle(page)
    assert page.evaluate("reach.state.flow") == 3
    assert page.locator(".card-head h2").is_visible()


def test_the_page_is_worked_by_the_keyboard_alone(browser_page, maps):
    watched = browser_page(maps / "index.html")
    page = watched.page
    page.focus("#gauge-reads")
    page.keyboard.type("4000")
    page.keyboard.press("Enter")
    settle(page)
    assert page.evaluate("reach.state.flow") == 2
    page.focus("#caution")
    page.keyboard.press("Enter")
    assert page.locator("#page-about").is_visible()
    page.focus("#tab-about")
    page.keyboard.press("ArrowRight")
    page.locator(".is-today").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".seven")).to_be_visible()
    page.locator("#page-card .plate-button").first.focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.className").startswith("run-row is-today")
    page.locator(".pin").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".seven")).to_be_visible()
    assert watched.messages == []


@SIZES
def test_a_run_has_seven_lines_in_one_order_each_with_how_sure(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    for number in range(3):
        page.locator(".is-today").nth(number).click()
        assert page.locator(".seven dt").all_inner_texts() == LINES
        assert page.locator(".seven dd .how-sure").count() == len(LINES)
        assert page.locator(".guide").inner_text().startswith("At this height ")
        page.locator("#page-card .plate-button").first.click()


@SIZES
def test_the_seven_lines_stand_out_from_the_paper(browser_page, maps, size):
    """WCAG 2.2, 1.4.6: seven to one; the formula of relative luminance is that of 1.4.3."""
    page = browser_page(maps / "index.html", size, bypass_csp=True).page
    for light in ("day", "night"):
        if light == "night":
            page.click("#night")
        page.locator(".is-today").first.click()
        ratios = page.evaluate(
            r"""() => {
            const lum = c => {const [r, g, b] = c.match(/[\d.]+/g).map(Number).map(v => v / 255)
              .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
              return 0.2126 * r + 0.7152 * g + 0.0722 * b;};
            const ground = e => {for (; e; e = e.parentElement) {
              const b = getComputedStyle(e).backgroundColor;
              if (!/, 0\)$/.test(b) && b !== 'transparent') return b;} return 'rgb(255,255,255)';};
            return [...document.querySelectorAll('.seven dt, .seven dd, .seven small, .guide')]
              .map(e => {const [a, b] = [lum(getComputedStyle(e).color), lum(ground(e))];
                return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);});}"""
        )
        assert len(ratios) >= 21
        assert min(ratios) >= 7
        page.locator("#page-card .plate-button").first.click()


@pytest.mark.parametrize("size", [(640, 400), (844, 390)], ids=["twice as large", "on its side"])
def test_a_card_can_be_read_in_a_low_window(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    assert page.locator("#gauge-reads").is_visible()
    assert page.locator("#caution").is_visible()
    assert page.locator(".is-today").first.is_visible()
    page.locator(".is-today").first.click()
    panel = page.locator("#panel").bounding_box()
    assert panel["height"] > 0.75 * size[1]
    assert page.locator("#page-card .plate-button").first.is_visible()
    for line in page.locator(".seven dd").all():
        line.scroll_into_view_if_needed()
        box = line.bounding_box()
        assert box["y"] >= panel["y"] - 1
        assert box["x"] + box["width"] <= size[0]
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    page.locator("#page-card .plate-button").first.click()
    assert page.locator("#gauge-reads").is_visible()


@SIZES
def test_what_cannot_be_fished_stands_below_with_its_reason(browser_page, maps, product, size):
    page = browser_page(maps / "index.html", size).page
    table = product.runs[(product.runs["flow_label"] == "2400cfs") & product.runs["shut"].notna()]
    assert len(table) == 1
    fold = page.locator(".fold-list", has_text="Not at this flow: 1")
    assert not fold.locator(".run-row").is_visible()
    fold.locator("summary").click()
    row = fold.locator(".run-row").inner_text()
    assert table["run"].iloc[0] in row
    assert "too quick; opens at 2,400 cfs" in row


@SIZES
def test_nothing_of_the_solver_stands_where_an_angler_reads(browser_page, product, size, tmp_path):
    page = browser_page(write_maps(with_doubt(product), tmp_path)[0], size).page
    read = []
    for tab in ("#tab-layers", "#tab-about", "#tab-runs"):
        page.click(tab)
        if not page.locator("#panel").is_visible():  # a second tap on a phone's tab closes it
            page.click(tab)
        read.append(page.locator("body").inner_text())
    for number in range(3):
        page.locator(".is-today").nth(number).click()
        read.append(page.locator("#page-card").inner_text())
        page.locator("#page-card .plate-button").first.click()
    type_reading(page, "1943")
    read.append(page.locator("body").inner_text())
    assert [SOLVER.findall(words) for words in read] == [[]] * len(read)
    assert len(" ".join(read)) > 3000


def test_a_phone_keeps_number_and_name_of_each_run_apart(browser_page, maps):
    page = browser_page(maps / "index.html", PHONE).page
    boxes = page.evaluate(
        """[...document.querySelectorAll('.pin .num, .pin-name:not(.no-room)')]
        .map(e => e.getBoundingClientRect()).map(b => [b.left, b.top, b.right, b.bottom])"""
    )
    assert len(boxes) >= 4
    for k, one in enumerate(boxes):
        for other in boxes[k + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0]
            apart = apart or one[3] <= other[1] or other[3] <= one[1]
            assert apart


@SIZES
def test_a_name_stands_on_the_map_only_with_its_number(browser_page, maps, size):
    page = browser_page(maps / "index.html", size).page
    page.evaluate(
        """() => {reach.state.moved = true;
        const box = document.querySelector('.pin').getBoundingClientRect();
        const map = document.querySelector('.folium-map').getBoundingClientRect();
        reach.map.panBy([box.left + 22 - map.left + 40, 0], {animate: false});}"""
    )
    page.wait_for_timeout(200)
    shown = page.evaluate(
        """() => {const m = document.querySelector('.folium-map').getBoundingClientRect();
        return [...document.querySelectorAll('.pin')].map(p => [
          !p.querySelector('.pin-name').classList.contains('no-room'),
          (b => b.left + 22 >= m.left && b.left + 22 <= m.right && b.top + 22 >= m.top &&
            b.top + 22 <= m.bottom)(p.getBoundingClientRect())]);}"""
    )
    assert any(not on_map for _, on_map in shown)
    assert not [pair for pair in shown if pair == [True, False]]
