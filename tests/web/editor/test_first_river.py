"""A newcomer's way: an empty folder, a whole small river drawn by mouse, built, and opened."""

import pytest

from reachmap.markup import read_markup
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.stamp import Options
from tests.browser import watched_page

pytestmark = [pytest.mark.browser, pytest.mark.slow]

RIVER = [(480, 560), (600, 470), (740, 430), (880, 460), (1010, 540), (1180, 560)]
"""Pixels of the window along the middle, going downstream: from west to east."""

LEFT = [(x, y - 24) for x, y in RIVER]
RIGHT_INNER = [(x, y + 24) for x, y in RIVER]
RIGHT_OUTER = [(x, y + 80) for x, y in reversed(RIVER)]


def draw_river(sheet):
    page = sheet.page
    page.fill("#start-place", "46.2, -141.3")
    page.click("text=Go there")
    sheet.settle()
    page.click("text=Draw the river line >> nth=-1")
    sheet.line(RIVER)
    page.fill("#page-draw input[name=name]", "Small Water")
    page.press("#page-draw input[name=name]", "Tab")
    page.click("[data-keep=done]")


def draw_banks(sheet):
    page = sheet.page
    page.click("text=As a strip")
    page.fill("#strip-width", "150")
    sheet.line(LEFT)
    say_of_bank(page, "brush", "6")
    page.click("text=As an outline")
    outline = [*RIGHT_INNER, *RIGHT_OUTER]
    for x, y in outline:
        sheet.click(x, y)
    sheet.click(*outline[0])  # back to the first point closes it
    say_of_bank(page, "gravel", "5")


def say_of_bank(page, cover, rise):
    page.wait_for_selector("legend:has-text('What grows or lies there')")
    page.check(f"input[name=field-cover][value={cover}]")
    page.fill("input[name=rise]", rise)
    page.press("input[name=rise]", "Tab")
    page.click("[data-keep=done]")


def fill_in_facts(sheet):
    sheet.page.click("text=Fill in")
    for fact, text in (("traced_flow", "900"), ("slope", "0.002"), ("flows", "600, 900, 1400")):
        sheet.page.fill(f"#fact-{fact}", text)
        sheet.page.press(f"#fact-{fact}", "Tab")
        sheet.settle()
    sheet.checked()


def test_a_whole_small_river_is_drawn_checked_built_and_opened(open_sheet, tmp_path, browser):
    folder = tmp_path / "first river"
    sheet = open_sheet(folder)
    draw_river(sheet)
    draw_banks(sheet)
    fill_in_facts(sheet)
    assert [mark["values"].get("side") for mark in sheet.marks()] == [None, "left", "right"]
    assert sheet.state("state.faults") == []
    sheet.page.click("#tab-check")
    assert sheet.page.inner_text("#build-command") == f'reachmap build "{folder}"'
    sheet.clean()

    markup = read_markup(folder)
    assert [bank.side for bank in markup.banks] == ["left", "right"]
    assert 400 < markup.main.line.length < 800
    assert markup.plan.traced_flow == pytest.approx(900 * 0.3048**3)
    build_reach(markup, folder / "written", Options(None, 4.0, True))
    index = folder / "written" / "maps" / "index.html"
    with watched_page(browser) as map_page:
        map_page.page.goto(index.as_uri())
        map_page.page.wait_for_timeout(1500)
        assert "first river" in map_page.page.inner_text("h1")
        assert map_page.messages == []
        assert map_page.requests == [index.as_uri()]
