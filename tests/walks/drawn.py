"""The first walk: a river drawn by taps, with a place and five numbers, no terrain."""

import json
import re

from tests.walks.person import build_command, say_facts

RIVER = [(480, 560), (600, 470), (740, 430), (880, 460), (1010, 540), (1180, 560)]
"""Pixels of the window along the middle, going downstream: from west to east."""

LEFT = [(x, y - 24) for x, y in RIVER]
RIGHT_INNER = [(x, y + 24) for x, y in RIVER]
RIGHT_OUTER = [(x, y + 80) for x, y in reversed(RIVER)]


def walk(person):
    person.types("new", "small-water")
    with person.draws("small-water") as sheet:
        person.shot("begin", sheet.page)
        draw(person, sheet)
        facts(sheet)
        preview(person, sheet)
        assert sheet.state("state.faults") == []
        assert build_command(sheet) == f"reachmap build {sheet.state('state.folder')}"
        person.shot("check", sheet.page)
    return person.builds_and_looks("small-water", "Small Water")


def draw(person, sheet):
    page = sheet.page
    page.fill("#start-place", "46.2, -141.3")
    page.click("text=Go there")
    sheet.settle()
    page.click("[data-keep=guide]")
    sheet.line(RIVER)
    page.click("[data-keep=done]")
    page.click("text=As a strip")
    page.fill("#strip-width", "150")
    sheet.line(LEFT)
    say_of_bank(page, "brush", "6")
    page.click("text=As an outline")
    for x, y in [*RIGHT_INNER, *RIGHT_OUTER]:
        sheet.click(x, y)
    person.shot("bank", page)
    sheet.click(*RIGHT_INNER[0])  # back to the first point closes it
    say_of_bank(page, "gravel", "")


def say_of_bank(page, cover, rise):
    page.wait_for_selector("legend:has-text('What grows or lies there')")
    page.check(f"input[name=field-cover][value={cover}]", force=True)
    page.fill("input[name=rise]", rise)
    page.press("input[name=rise]", "Tab")
    page.click("[data-keep=done]")


def facts(sheet):
    named = {"name": "Small Water", "traced_flow": "900", "slope": "0.002"}
    say_facts(sheet, **named, flows="600, 900, 1400")
    sides = [mark["values"].get("side") for mark in sheet.marks()]
    assert sides == [None, "left", "right"]


def preview(person, sheet):
    """Look at the preview, move its flow, answer what it asks for, and see what that changes."""
    page = sheet.page
    page.click("#tab-draw")
    page.wait_for_selector("#preview-bar:not([hidden])")
    page.focus("#preview-flow")
    page.keyboard.press("End")
    page.wait_for_selector("#preview-tag:has-text('1,400 cfs')")
    page.wait_for_selector("#wanted-rise")
    assert "the bank on river right" in page.inner_text("#wanted")
    person.shot("preview", page)
    before = page.inner_text("#preview-change")
    page.fill("#wanted-rise", "5")
    page.press("#wanted-rise", "Tab")
    quoted = json.dumps(before, ensure_ascii=False)
    page.wait_for_selector(f"#preview-change:not(:text-is({quoted}))")
    sheet.settle()
    assert [mark["values"].get("rise") for mark in sheet.marks()][2] == "5"
    known = re.search(
        r"bank not known ([\d,]+) yd² to ([\d,]+)", page.inner_text("#preview-change")
    )
    was, now = (int(one.replace(",", "")) for one in known.groups())
    assert now < was / 2
    assert "People drown wading" in page.inner_text("#preview-part")
    person.shot("preview-changed", page)
    sheet.checked()
