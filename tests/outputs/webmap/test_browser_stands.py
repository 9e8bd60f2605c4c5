"""A chosen place to stand in a real Chromium: layers, its one cast, its room, the next ones."""

from __future__ import annotations

import pytest

from tests.browser import PHONE
from tests.outputs.webmap.steps import SIZES

pytestmark = [pytest.mark.browser, pytest.mark.slow]

FIRST = """() => {
  const now = reach.state.flow;
  const stands = reach.features().filter((f) => f.kind === "station" && f.flow === now);
  const of = (run) => stands.filter((f) => f.run === run);
  const run = stands.map((f) => f.run).find((one) => one >= 0 && of(one).length > 1);
  const first = reach.standsOf(run)[0];
  reach.openFeature(first);
  return [first.number, of(run).length];
}"""
SHOWN = """() => {
  const at = reach.map.latLngToContainerPoint(reach.placeOf(reach.state.chosen));
  const size = reach.map.getSize();
  const low = document.getElementById("panel").getBoundingClientRect().top;
  const box = reach.map.getContainer().getBoundingClientRect();
  const free = innerWidth < 500 ? low : innerHeight;
  return at.x > 0 && at.x < size.x && at.y > 0 && box.top + at.y < free;
}"""


@SIZES
def test_a_chosen_stand_switches_its_layers_on_and_shows_its_own_cast_alone(
    browser_page, maps, size
):
    page = browser_page(maps / "index.html", size).page
    page.evaluate("['station', 'swing', 'room'].forEach((one) => reach.state.on.delete(one))")
    number, count = page.evaluate(FIRST)
    assert count > 1
    assert page.evaluate("['station', 'swing', 'room'].every((one) => reach.state.on.has(one))")
    assert page.evaluate("[...reach.sheet.fans].map((one) => one.number)") == [number]
    assert page.evaluate(SHOWN)
    assert page.evaluate("reach.sheet.view().metres") < 0.9  # close enough for the cast to be drawn
    rows = page.locator("#page-card .facts").first.inner_text()
    (label,) = page.evaluate("reach.roomLabels(reach.sheet.view()).map((one) => one.text)")
    assert label in rows.split("Room behind")[1]


def test_one_goes_down_and_up_the_run_by_buttons_and_by_a_swipe(browser_page, maps):
    page = browser_page(maps / "index.html", PHONE).page
    number, count = page.evaluate(FIRST)
    chosen = "reach.state.chosen.number"
    steps = page.locator(".stand-steps button")
    assert page.locator(".stand-steps span").inner_text() == f"1 of {count}"
    assert steps.first.is_disabled()
    steps.last.click()
    second = page.evaluate(chosen)
    assert second != number
    assert page.evaluate(SHOWN)
    assert page.locator(".stand-steps span").inner_text() == f"2 of {count}"
    swipe = """(along) => {
      const card = document.getElementById("page-card");
      const touch = (x) => new Touch({ identifier: 1, target: card, clientX: x, clientY: 500 });
      card.dispatchEvent(new TouchEvent("touchstart", { touches: [touch(200)] }));
      card.dispatchEvent(new TouchEvent("touchend", { changedTouches: [touch(200 + along)] }));
    }"""
    page.evaluate(swipe, 100)
    assert page.evaluate(chosen) == number
    page.evaluate(swipe, -30)  # too short: a finger that slipped
    assert page.evaluate(chosen) == number
    page.evaluate(swipe, -100)
    assert page.evaluate(chosen) == second
