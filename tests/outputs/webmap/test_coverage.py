"""How much of a run's water is swum rightly, and the small pictures of it in a real Chromium."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import box

from reachmap.base.schema import layer_frame
from reachmap.outputs.webmap import write_maps
from reachmap.outputs.webmap.coverage import covered_shares
from reachmap.text.map_page import covered_words
from tests.browser import PHONE
from tests.outputs.made_product import made_product
from tests.outputs.webmap.steps import settle

LABEL = "2400cfs"


def swum(product, label, shapes):
    """Return the product with water swum rightly at one flow."""
    flow = float(product.flows["flow"].to_numpy()[product.labels.index(label)])
    rows = [
        {"flow": flow, "flow_label": label, "area_m2": one.area, "seconds": 3.0, "geometry": one}
        for one in shapes
    ]
    crs = str(product.layers["water"].crs)
    return replace(product, layers={**product.layers, "covered": layer_frame("covered", rows, crs)})


@pytest.fixture(scope="module")
def half_swum():
    """The made product; the western half of all its water is swum rightly at one flow."""
    product = made_product()
    water = product.layers["water"]
    west, south, east, north = water[water["flow_label"] == LABEL].total_bounds
    return swum(product, LABEL, [box(west, south, (west + east) / 2, north)])


def test_a_run_wholly_swum_one_not_and_one_of_which_a_part_is():
    product = made_product()
    water = product.layers["water"]
    mine = water[(water["flow_label"] == LABEL) & (water["run"] == "First Gravel")]
    whole = mine.union_all()
    x0, y0, x1, y1 = whole.bounds
    shares = covered_shares(swum(product, LABEL, [box(x0, y0, x1, y1)]))
    assert shares[LABEL, "First Gravel"] == pytest.approx(1.0)
    part = whole.intersection(box(x0, y0, (x0 + x1) / 2, y1))
    shares = covered_shares(swum(product, LABEL, [part]))
    assert shares[LABEL, "First Gravel"] == pytest.approx(part.area / whole.area, abs=1e-6)
    assert 0 < part.area / whole.area < 1
    assert shares[LABEL, "Tin Roof"] == 0.0


def test_where_nothing_was_looked_at_nothing_is_said():
    product = made_product()
    assert covered_shares(product) == {}
    bare = {name: one for name, one in product.layers.items() if name != "covered"}
    assert covered_shares(replace(product, layers=bare)) == {}
    assert covered_words(float("nan")) == ""
    only = covered_shares(swum(product, LABEL, [box(0, 0, 1, 1)]))
    assert {label for label, _ in only} == {LABEL}


@pytest.mark.browser
@pytest.mark.slow
def test_the_card_shows_what_is_swum_and_only_where_it_is_known(half_swum, tmp_path, browser_page):
    path = write_maps(half_swum, tmp_path)[0]
    page = browser_page(path, PHONE, address=f"#flow={LABEL}").page
    page.evaluate("document.querySelector('[aria-controls=fold-table]').click()")
    names = page.locator(".run-curves .curve-name").all_inner_texts()
    shares = covered_shares(half_swum)
    for number, name in enumerate(names):
        page.evaluate(f"document.querySelectorAll('.run-curves button')[{number}].click()")
        settle(page)
        told = page.locator(".cover-picture figcaption")
        words = covered_words(shares.get((LABEL, name), float("nan")))
        assert told.all_inner_texts() == ([words] if words else [])
    page.evaluate("document.querySelectorAll('.run-curves button')[0].click()")
    settle(page)
    assert page.locator(".cover-picture .cover-water").count() == 1
    page.evaluate("document.getElementById('higher').click()")
    settle(page)
    assert page.locator(".cover-picture").count() == 0


@pytest.mark.browser
@pytest.mark.slow
def test_every_run_has_a_curve_whose_name_is_whole_on_a_phone(half_swum, tmp_path, browser_page):
    path = write_maps(half_swum, tmp_path)[0]
    page = browser_page(path, PHONE, address=f"#flow={LABEL}").page
    page.evaluate("document.querySelector('[aria-controls=fold-table]').click()")
    settle(page)
    rows = page.evaluate(
        """() => [...document.querySelectorAll('.run-curves li')].map(li => {
          const name = li.querySelector('.curve-name'), box = li.getBoundingClientRect();
          return {cut: name.scrollWidth > name.clientWidth + 1, high: box.height,
                  out: box.right > innerWidth + 1,
                  worth: li.querySelector('.curve-worth').textContent,
                  said: li.firstChild.getAttribute('aria-label')}; })"""
    )
    assert len(rows) == len(half_swum.layers["runs"])
    table = half_swum.runs[half_swum.runs["flow_label"] == LABEL].set_index("run")
    for row, run in zip(
        rows, half_swum.layers["runs"].sort_values("station_m")["run"], strict=True
    ):
        odds = table["odds"][run]
        assert row["worth"] == (f"{odds:.0f}" if odds == odds else row["worth"])
        assert (row["worth"] in {"-", "?"}) is not (odds == odds)
        assert run in row["said"]
        assert not row["cut"]
        assert not row["out"]
        assert row["high"] >= 44
