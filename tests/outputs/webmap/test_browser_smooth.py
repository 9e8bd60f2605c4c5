"""Close to, in a real Chromium: smooth borders between cells, and unknown water stays unknown."""

from __future__ import annotations

import pytest

from tests.outputs.webmap.steps import settle, spot

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.mark.parametrize(
    ("codes", "upper", "left", "mixed"),
    [
        ([10, 20, 30, 40], 0.5, 0.5, 25),
        ([10, 20, 30, 40], 1.0, 1.0, 10),
        ([10, 20, 30, 40], 0.25, 1.0, 25),
        # dry cells do not thin what is wet: it ends where most is dry
        ([10, 20, 0, 0], 0.6, 0.5, 15),
        ([10, 20, 0, 0], 0.4, 0.5, 0),
        ([10, 20, 254, 254], 0.4, 0.5, 0),
        # unknown water is never drawn as known: a quarter of it is enough
        ([10, 20, 30, 255], 0.5, 0.5, 255),
        ([255, 0, 0, 0], 0.5, 0.5, 255),
        ([10, 20, 30, 255], 0.6, 0.5, 19),
    ],
)
def test_between_cells_unknown_water_stays_unknown_and_dry_ground_does_not_thin_it(
    browser_page, maps, codes, upper, left, mixed
):
    page = browser_page(maps / "index.html").page
    told = page.evaluate(
        "([c, u, l]) => reach.mixedCode(Uint8Array.from(c), 0, 2, u, l)", [codes, upper, left]
    )
    assert told == mixed


def test_close_to_the_water_is_drawn_finer_than_its_cells(browser_page, maps, product):
    page = browser_page(maps / "index.html").page
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth > 0.5))
    page.evaluate(
        f"reach.map.setView([{place[1]}, {place[0]}], 20, {{animate: false}});"
        "reach.state.on.clear(); reach.sheet.draw()"
    )
    settle(page)
    widths = page.evaluate(
        """() => {const c = document.querySelector('.leaflet-overlay-pane canvas');
        const p = c.getContext('2d').getImageData(0, 0, c.width, c.height);
        const seen = []; let run = 1;
        for (let y = 0; y < c.height; y += 7) for (let x = 1; x < c.width; x++) {
          const at = 4 * (y * c.width + x);
          const same = [0, 1, 2, 3].every((k) => p.data[at + k] === p.data[at - 4 + k]);
          if (same) run++; else {seen.push(run); run = 1;}}
        return seen;}"""
    )
    cell = page.evaluate("reach.data.tiles.side / 256 * reach.sheet.view().k")
    assert min(widths) < 0.5 * cell
