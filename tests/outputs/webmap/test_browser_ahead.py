"""Water made ready before it is asked for shows what is drawn when it is asked for."""

from __future__ import annotations

import pytest

from tests.outputs.webmap.steps import SIZES, settle

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PIXELS = """async () => {
  reach.sheet.draw();
  const canvas = reach.sheet._container;
  const bytes = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  const hash = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(hash)).join();
}"""
"""Hash of the whole drawing."""


def rested(page):
    """Wait until the neighbours are ready and the old edge is gone."""
    settle(page)
    page.wait_for_timeout(4500)


@SIZES
@pytest.mark.parametrize("by", ["depth", "speed"])
def test_a_step_to_water_made_ahead_draws_what_is_drawn_without_it(browser_page, maps, size, by):
    page = browser_page(maps / "index.html", size).page
    page.evaluate(f"reach.state.water = {by!r}; reach.setFlow(1)")
    rested(page)
    ahead = page.evaluate("reach.waterAhead().map((field) => field.at).sort()")
    assert ahead == [0, 1, 2]
    kept = page.evaluate("reach.keptPictures.byKey.size")
    page.evaluate("window.field = reach.waterAhead().find((one) => one.at === 2)")
    page.evaluate("reach.setFlow(2)")
    settle(page)
    assert page.evaluate("reach.waterAhead().includes(window.field)")
    assert kept > 0
    rested(page)
    quick = page.evaluate(PIXELS)
    page.evaluate("reach.keptPictures.clear()")
    assert page.evaluate(PIXELS) == quick
    page.evaluate("reach.setFlow(1)")
    rested(page)
    assert page.evaluate(PIXELS) != quick


def test_pictures_are_kept_up_to_a_size_and_the_oldest_go_first(browser_page, maps):
    page = browser_page(maps / "index.html").page
    settle(page)
    left = page.evaluate("""() => {
      const kept = reach.keptPictures;
      kept.clear();
      for (let i = 0; i < 40; i++) kept.keep("made" + i, new ImageData(512, 512));
      kept.get("made" + 10);
      kept.keep("last", new ImageData(512, 512));
      return [kept.bytes, kept.get("made0") === undefined, kept.get("last").width, kept.byKey.size];
    }""")
    assert left == [30 * 512 * 512 * 4, True, 512, 30]  # of a megabyte each, as many as 32 MB hold
