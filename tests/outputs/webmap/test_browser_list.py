"""The day's list and its numbers on the map in a real Chromium: order, light, room."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser import PHONE
from tests.outputs.webmap.steps import SIZES, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@SIZES
def test_the_list_is_short_and_the_map_has_the_same_numbers(browser_page, maps, product, size):
    page = browser_page(maps / "index.html", size).page
    for label in product.labels:
        type_reading(page, label.removesuffix("cfs"))
        rows = page.locator(".is-today").evaluate_all(
            "all => all.map(r => [r.querySelector('.num').textContent,"
            "r.querySelector('.run-title').textContent])"
        )
        pins = page.locator(".pin").evaluate_all(
            "all => all.map(r => [r.querySelector('.num').textContent,"
            "r.querySelector('.pin-name').textContent])"
        )
        assert 1 <= len(rows) <= 5
        assert pins == rows
        assert [number for number, _ in rows] == [str(k + 1) for k in range(len(rows))]


def test_numbers_stand_in_the_water_of_their_run_downstream(browser_page, maps, product):
    page = browser_page(maps / "index.html").page
    places = page.evaluate(
        """() => reach.runs().map(r => r.at[reach.state.flow]).filter(n => n.pick)
        .sort((a, b) => a.pick - b.pick).map(n => n.place)"""
    )
    inside = page.evaluate(
        """(places) => places.map(([x, y]) => reach.features().some(f => f.flow ===
        reach.state.flow && ['inside_bend', 'seam', 'tailout', 'soft_edge'].includes(f.kind) &&
        f.box[0] <= x && f.box[2] >= x && f.box[1] <= y && f.box[3] >= y))""",
        places,
    )
    assert all(inside)
    table = product.runs[(product.runs["flow_label"] == "2400cfs") & (product.runs["pick"] > 0)]
    order = product.layers["runs"].set_index("run")["station_m"]
    stations = [order[run] for run in table.sort_values("pick")["run"]]
    assert stations == sorted(stations)


def test_what_only_a_boat_reaches_stands_apart(browser_page, maps):
    page = browser_page(maps / "index.html").page
    lists = page.locator("#run-list ol.today")
    assert lists.count() == 2
    assert page.locator("#run-list h3").inner_text() == "By boat"
    assert lists.nth(0).locator(".num").all_inner_texts() == ["1", "2"]
    assert lists.nth(1).locator(".num").all_inner_texts() == ["3"]


def test_a_row_lights_its_number_and_a_number_its_row(browser_page, maps):
    watched = browser_page(maps / "index.html")
    page = watched.page
    row, pin = page.locator(".is-today").nth(1), page.locator(".pin").nth(1)
    for act in (row.hover, row.focus):
        act()
        expect(pin).to_have_class(re.compile("is-lit"))
        expect(page.locator(".pin.is-lit")).to_have_count(1)
        page.mouse.move(900, 60)
        page.evaluate("document.activeElement.blur()")
        expect(page.locator(".is-lit")).to_have_count(0)
    for act in (pin.locator(".num").hover, pin.focus):
        act()
        expect(row).to_have_class(re.compile("is-lit"))
        page.mouse.move(900, 60)
        page.evaluate("document.activeElement.blur()")
        expect(page.locator(".is-lit")).to_have_count(0)
    pin.click()
    assert page.locator(".card-head h2").inner_text() == row.locator(".run-title").text_content()
    assert watched.messages == []


def test_a_run_is_named_the_best_where_the_map_tells_it_from_every_other(browser_page, maps):
    page = browser_page(maps / "index.html").page
    told = page.evaluate("""() => {
      const now = reach.runs().map((run) => run.at[reach.state.flow]).filter((one) => one.pick);
      now.sort((a, b) => a.pick - b.pick);
      const mark = (first, sure) => {
        now.forEach((one, i) => Object.assign(one, { first: i === first, sure: sure[i] }));
        reach.listRuns();
        const rows = [...document.querySelectorAll(".is-today")];
        return rows.map((row) => Boolean(row.querySelector(".run-best")));
      };
      const good = now.map(() => "good");
      return [mark(1, good), mark(1, ["good", "a guess", "good"]), mark(-1, good)];
    }""")
    assert told == [[False, True, False], [False] * 3, [False] * 3]


@pytest.mark.parametrize(
    ("size", "beside"),
    [
        ((1280, 800), True),
        ((640, 400), True),
        ((844, 390), True),
        ((820, 1180), False),
        ((500, 400), False),
    ],
)
def test_the_list_stands_beside_the_map_on_broad_windows_and_over_it_on_upright_ones(
    browser_page, maps, size, beside
):
    page = browser_page(maps / "index.html", size).page
    panel = page.locator("#panel").bounding_box()
    river = page.locator(".folium-map").bounding_box()
    assert (panel["x"] + panel["width"] <= river["x"] + 1) == beside
    assert river["width"] >= (0.4 if beside else 0.99) * size[0]
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_numbers_that_would_hide_each_other_stand_apart(browser_page, maps):
    page = browser_page(maps / "index.html", PHONE).page
    far = page.evaluate("""() => {
      const now = reach.runs().map((run) => run.at[reach.state.flow]).filter((one) => one.pick);
      now[1].place = [now[0].place[0] + 30, now[0].place[1]];
      reach.listPins();
      const pins = [...document.querySelectorAll(".pin .num")];
      const at = pins.map((one) => one.getBoundingClientRect());
      const between = (a, b) => Math.hypot(a.x - b.x, a.y - b.y);
      return Math.min(...at.flatMap((a, i) => at.slice(i + 1).map((b) => between(a, b))));
    }""")
    assert far >= 30


def test_a_card_on_a_phone_leaves_room_for_the_map(browser_page, maps):
    page = browser_page(maps / "index.html", PHONE).page
    page.locator(".is-today").first.click()
    expect(page.locator("#gauge")).to_be_hidden()
    expect(page.locator("#flow-range")).to_be_visible()
    expect(page.locator("#caution")).to_be_visible()
