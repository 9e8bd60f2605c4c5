"""At a reading between two flows drawn, in a real Chromium: the water is mixed of both of them.

The outside judge is a bank that rises evenly: on it the edge of a level lies exactly where the
level meets the bed. The flows are made, so that level and bed are known at every cell.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from playwright.sync_api import expect
from pyproj import Transformer

from reachmap.base.units import to_si
from reachmap.base.words import Wet
from reachmap.outputs.webmap import write_maps
from tests.outputs.made_doubt import with_doubt
from tests.outputs.webmap.steps import SIZES, settle, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]

READ = """async ([at, places]) => {
  const field = await reach.fieldAt(at, ["speed", "grade"]);
  return places.map(([lng, lat]) => reach.readingFrom(field, L.latLng(lat, lng)));
}"""


def places_of(product, mask, many=60):
    """Return some cells of a mask, spread over it, and their longitudes and latitudes."""
    cells = np.flatnonzero(mask.ravel())
    cells = cells[:: max(1, cells.size // many)]
    rows, columns = np.divmod(cells, mask.shape[1])
    move = Transformer.from_crs(product.markup.crs, "EPSG:4326", always_xy=True).transform
    east, north = move(product.flows["x"].to_numpy()[columns], product.flows["y"].to_numpy()[rows])
    return (rows, columns), np.column_stack([east, north]).tolist()


def fields_of(product, *names):
    return [product.flows[name].to_numpy() for name in names]


def test_the_depth_between_two_flows_is_straight_in_the_logarithm_of_the_flow(
    browser_page, maps, product
):
    page = browser_page(maps / "index.html").page
    level, depth, wet = fields_of(product, "level", "depth", "wet")
    both = (wet[1] == Wet.YES) & (wet[2] == Wet.YES) & np.isfinite(depth[1] + depth[2])
    at, places = places_of(product, both)
    for cfs in (2600.0, 3000.0, 3700.0):
        share = math.log(cfs / 2400) / math.log(4000 / 2400)
        position = page.evaluate(f"reach.positionOf({to_si(cfs, 'cfs')})")
        assert position == pytest.approx(1 + share, abs=2e-3)
        told = page.evaluate(READ, [position, places])
        real = ((1 - share) * level[1] + share * level[2] - product.ground["bed"].to_numpy())[at]
        off = np.array([one["depth"] for one in told]) - real
        # cells of the page and of the raster may differ by half a cell; a depth is rounded up
        assert np.median(off) == pytest.approx(0.02, abs=0.03)
        assert np.percentile(np.abs(off), 80) < 0.12


def test_the_edge_moves_with_the_reading_and_never_back(browser_page, maps, product):
    page = browser_page(maps / "index.html").page
    wet = product.flows["wet"].to_numpy()
    fresh = (wet[1] == Wet.NO) & (wet[2] == Wet.YES)
    _, places = places_of(product, fresh, 200)
    shares = []
    for position in (1.0, 1.1, 1.3, 1.5, 1.7, 1.9, 2.0):
        told = page.evaluate(READ, [position, places])
        shares.append(sum(one["what"] == "wet" for one in told) / len(told))
    assert shares[0] < 0.1
    assert shares[-1] > 0.9
    assert shares == sorted(shares)
    assert max(np.diff(shares)) < 0.4  # it does not jump from the one to the other


def test_what_is_unknown_at_one_of_the_two_is_unknown_between(browser_page, maps, product):
    page = browser_page(maps / "index.html").page
    depth, wet = fields_of(product, "depth", "wet")
    unknown = [(wet[k] == Wet.UNKNOWN) | ((wet[k] == Wet.YES) & np.isnan(depth[k])) for k in (1, 2)]
    some = unknown[0] | unknown[1]
    assert some.any()
    _, places = places_of(product, some)
    told = page.evaluate(READ, [1.5, places])
    kinds = [one["what"] for one in told]
    assert kinds.count("unknown") + kinds.count("off") > 0.85 * len(kinds)  # cells differ by half


def test_wading_between_two_flows_is_the_stricter_of_both(browser_page, maps):
    page = browser_page(maps / "index.html").page
    told = page.evaluate(
        """async () => {
        const fields = await Promise.all([1, 1.5, 2].map((at) => reach.fieldAt(at, ["grade"])));
        const seen = {};
        for (let tile = 0; tile < reach.data.tiles.at.length; tile++) {
          const [low, mixed, high] = fields.map((field) => field.codes("grade", tile));
          const depth = fields[1].codes("depth", tile);
          for (let i = 0; i < mixed.length; i++) {
            const wet = depth[i] > reach.data.tiles.ground && depth[i] < 254;
            if (wet && mixed[i] < Math.max(low[i], high[i])) seen.milder = (seen.milder || 0) + 1;
            if (wet && !mixed[i]) seen.none = (seen.none || 0) + 1;
            if (wet && low[i] !== high[i] && low[i]) seen.differ = (seen.differ || 0) + 1;
          }
        }
        return seen;}"""
    )
    assert set(told) == {"differ"}
    assert told["differ"] > 100


@SIZES
def test_a_reading_between_is_drawn_said_and_kept_in_the_address(browser_page, maps, size):
    watched = browser_page(maps / "index.html", size)
    page = watched.page
    type_reading(page, "3000")
    assert page.locator("#flow-now").inner_text() == "3,000 cfs"
    assert page.locator("#flow-other").inner_text() == "85 m³/s"
    assert page.evaluate("location.hash") == "#flow=3000cfs"
    assert page.locator("#run-list h2").inner_text() == "Today at 4,000 cfs"
    said = page.locator("#gauge-told").inner_text()
    assert "Between 2,400 cfs and 4,000 cfs; list of 4,000 cfs" in said
    assert watched.messages == []


def test_the_staff_is_dragged_without_steps_and_the_list_follows_when_it_rests(browser_page, maps):
    watched = browser_page(maps / "index.html")
    page = watched.page
    box = page.locator("#flow-range").bounding_box()
    x = [box["x"] + 13 + share * (box["width"] - 26) for share in (1 / 3, 0.4, 0.45, 0.5)]
    page.mouse.move(x[0], box["y"] + box["height"] / 2)
    page.mouse.down()
    seen = []
    for one in x[1:]:
        page.mouse.move(one, box["y"] + box["height"] / 2)
        page.wait_for_timeout(60)
        seen.append(page.evaluate("reach.state.at"))
    page.mouse.up()
    settle(page)
    assert seen == sorted(seen)
    assert all(1 < at < 2 for at in seen)
    assert page.evaluate("reach.state.flow") == 2
    expect(page.locator("#run-list h2")).to_have_text("Today at 4,000 cfs")
    words = page.locator("#flow-now").inner_text()
    assert page.evaluate("location.hash") == "#flow=" + words.replace(",", "").replace(" ", "")
    page.click("#lower")
    settle(page)
    assert page.evaluate("reach.state.at") == 1
    assert watched.messages == []


def test_a_jump_fades_within_a_quarter_of_a_second_and_not_where_motion_is_unwanted(
    browser_page, maps
):
    fading = "document.querySelectorAll('.fading').length"
    page = browser_page(maps / "index.html").page
    lasts = page.evaluate("""async () => {
      let seen = "";
      const look = () => {
        const old = document.querySelector(".fading");
        if (old && !seen) seen = getComputedStyle(old).animationDuration;
      };
      const watch = new MutationObserver(look);
      watch.observe(document.body, { subtree: true, childList: true, attributes: true });
      await reach.setFlow(3);
      watch.disconnect();
      return seen;
    }""")
    assert lasts == "0.25s"
    expect(page.locator(".fading")).to_have_count(0)
    still = browser_page(maps / "index.html", reduced_motion="reduce").page
    still.evaluate("reach.setFlow(3)")
    assert still.evaluate(fading) == 0


def test_what_is_unknown_or_beyond_at_either_flow_is_listed_at_a_tap(
    browser_page, product, tmp_path
):
    page = browser_page(write_maps(with_doubt(product), tmp_path)[0]).page
    zones = page.evaluate(
        """async () => {await reach.setFlow(1.5);
        return reach.features().filter(f => ['easy', 'careful', 'no', 'unknown'].includes(f.kind))
          .map(f => f.flow).filter((flow, i, all) => all.indexOf(flow) === i).sort();}"""
    )
    assert {1, 2} <= set(zones)
    kinds = page.evaluate(
        """() => {const rank = {easy: 1, careful: 2, no: 3, unknown: 4};
        Object.keys(rank).forEach(kind => reach.state.on.add(kind));
        const {origin, unit} = reach.data, projection = reach.map.options.crs.projection;
        const told = [];
        for (const f of reach.features()) {
          if (!(f.kind in rank) || (f.flow !== 1 && f.flow !== 2)) continue;
          const point = L.point(origin[0] + f.x * unit, origin[1] + f.y * unit);
          const found = reach.sheet.under(projection.unproject(point));
          const here = found.filter(one => one.kind in rank);
          told.push([rank[f.kind], here.length, here.length ? rank[here[0].kind] : 0]);
        }
        return told;}"""
    )
    assert kinds
    assert all(many == 1 and found >= own for own, many, found in kinds)
