"""Close to, in a real Chromium: smooth borders between cells, and unknown water stays unknown."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.words import Wet
from reachmap.outputs.webmap.signed import UNKNOWN, depth_codes
from tests.outputs.webmap.steps import settle, spot

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def code(depth):
    """Return the code of a depth [m]: negative on dry ground, None where nobody knows it."""
    if depth is None:
        return UNKNOWN
    wet = np.array([Wet.YES if depth > 0 else Wet.NO], dtype=np.uint8)
    return int(depth_codes(np.array([float(depth)]), wet)[0])


@pytest.mark.parametrize(
    ("depths", "upper", "left", "between"),
    [
        ([1, 2, 3, 4], 0.5, 0.5, 2.5),
        ([1, 2, 3, 4], 1.0, 1.0, 1.0),
        ([1, 2, 3, 4], 0.25, 1.0, 2.5),
        # dry ground does not thin what is wet; the edge is where the level meets the bed
        ([1, 1, -0.1, -0.1], 0.2, 0.5, 1.0),
        ([0.1, 0.1, -0.1, -0.1], 0.6, 0.5, 0.1),
        ([0.1, 0.1, -0.1, -0.1], 0.4, 0.5, 0),
        # a bank that stands up out of it takes little away: 0.2 m of it count
        ([0.2, 0.2, -0.9, -0.9], 0.6, 0.5, 0.2),
        ([0.2, 0.2, -0.9, -0.9], 0.4, 0.5, 0),
        # unknown water is never drawn as known: a quarter of it is enough
        ([1, 2, 3, None], 0.5, 0.5, None),
        ([None, -1, -1, -1], 0.5, 0.5, None),
        ([1, 1, 1, None], 0.6, 0.5, 1.0),
    ],
)
def test_between_cells_unknown_water_stays_unknown_and_dry_ground_does_not_thin_it(
    browser_page, maps, depths, upper, left, between
):
    page = browser_page(maps / "index.html").page
    told = page.evaluate(
        "([c, v, u, l]) => {const t = reach.valueBetween(Uint8Array.from(c), v, 0, 2, u, l);"
        "return Number.isNaN(t) ? null : t;}",
        [[code(depth) for depth in depths], [depth or 0 for depth in depths], upper, left],
    )
    assert told == (None if between is None else pytest.approx(between, abs=1e-6))


@pytest.mark.parametrize(
    ("grades", "upper", "left", "drawn"),
    [
        ([1, 1, 1, 1], 0.5, 0.5, 1),
        ([1, 1, 1, 2], 0.5, 0.5, 2),
        ([1, 1, 1, 2], 0.52, 0.5, 1),
        ([1, 1, 2, 3], 0.5, 0.5, 3),
        ([1, 2, 3, 4], 0.5, 0.5, 4),
        # dry ground beside it says nothing: half of what is water here is beyond
        ([1, 3, 0, 0], 0.1, 0.5, 3),
        ([2, 2, 0, 0], 0.1, 0.5, 2),
    ],
)
def test_between_cells_the_worst_grade_that_a_quarter_of_the_water_has_is_drawn(
    browser_page, maps, grades, upper, left, drawn
):
    page = browser_page(maps / "index.html").page
    told = page.evaluate(
        "([g, u, l]) => reach.gradeBetween(Uint8Array.from(g), 0, 2, u, l)", [grades, upper, left]
    )
    assert told == drawn


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
