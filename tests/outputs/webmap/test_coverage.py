"""How much of a run's water is swum rightly, and the small pictures of it in a real Chromium."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import box

from reachmap.base.schema import layer_frame
from reachmap.base.words_runs import OnlyFrom
from reachmap.outputs.webmap import write_maps
from reachmap.outputs.webmap.coverage import beyond_shares, covered_shares
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


def out_of_reach(product, label, patches):
    """Return the product with swing water that casts get to from one bank alone, or by boat."""
    flow = float(product.flows["flow"].to_numpy()[product.labels.index(label)])
    rows = [
        {"flow": flow, "flow_label": label, "area_m2": one.area, "only_from": only, "geometry": one}
        for only, one in patches.items()
    ]
    crs = str(product.layers["water"].crs)
    return replace(product, layers={**product.layers, "beyond": layer_frame("beyond", rows, crs)})


def test_what_no_cast_gets_to_is_a_share_of_the_runs_water():
    product = made_product()
    water = product.layers["water"]
    mine = water[(water["flow_label"] == LABEL) & (water["run"] == "First Gravel")].union_all()
    x0, y0, x1, y1 = mine.bounds
    middle = (x0 + x1) / 2
    left, right = box(x0, y0, middle, y1), box(middle, y0, x1, y1)
    patches = {OnlyFrom.BOAT: left, OnlyFrom.LEFT: right}
    shares = beyond_shares(out_of_reach(product, LABEL, patches))
    got = shares[LABEL, "First Gravel"]
    assert got["boat"] == pytest.approx(mine.intersection(left).area / mine.area)
    assert got["boat"] + got["left"] == pytest.approx(1.0)
    assert "right" not in got
    assert beyond_shares(product) == {}


def test_the_words_tell_the_other_bank_from_the_boat_and_leave_out_what_is_not_there():
    both = covered_words(0.3, 0.21, 0.12)
    assert "30 % of its water rightly: dark" in both
    assert (
        "Hatched, no cast from your bank gets there: 21 % from the other bank, 12 % only from"
        in both
    )
    assert "other bank" not in covered_words(0.3, 0.0, 0.12)
    assert "boat" not in covered_words(0.3, 0.21, 0.0)
    assert "Hatched" not in covered_words(0.3)


@pytest.mark.browser
@pytest.mark.slow
def test_the_card_hatches_what_the_other_bank_and_a_boat_get_to(half_swum, tmp_path, browser_page):
    water = half_swum.layers["water"]
    west, south, east, north = water[water["flow_label"] == LABEL].total_bounds
    patch = box((west + east) / 2, south, east, north)
    hatched = {}
    for only in OnlyFrom:
        product = out_of_reach(half_swum, LABEL, {only: patch})
        path = write_maps(product, tmp_path / only)[0]
        page = browser_page(path, PHONE, address=f"#flow={LABEL}").page
        page.evaluate("document.querySelector('[aria-controls=fold-table]').click()")
        for number in range(page.locator(".run-curves button").count()):
            page.evaluate(f"document.querySelectorAll('.run-curves button')[{number}].click()")
            settle(page)
            told = page.locator(".cover-picture figcaption").all_inner_texts()
            bank = page.evaluate(f"reach.runs()[{number}].at[reach.state.flow].bank")
            drawn = page.locator(".cover-picture .cover-far").count()
            share = beyond_shares(product).get(
                (LABEL, page.evaluate(f"reach.runs()[{number}].name"))
            )
            mine = {"left": "right", "right": "left"}.get(bank) == only or only == OnlyFrom.BOAT
            if told and share[only] >= 0.01:
                assert ("Hatched" in told[0]) is mine
                assert (drawn > 0) is mine
                hatched[only, mine] = True
    assert (OnlyFrom.BOAT, True) in hatched
    assert {mine for only, mine in hatched if only != OnlyFrom.BOAT} == {True, False}


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
