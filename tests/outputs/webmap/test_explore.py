"""The folium map of one flow: nothing from the network, what is not known drawn."""

from __future__ import annotations

import json
import re

import pytest

from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.webmap import assets
from reachmap.outputs.webmap.explore import SHOWN_COLUMNS, explore_map
from reachmap.pipeline.any_flow import only_flow
from tests.browser import watched_page
from tests.outputs.made_product import made_product

BRACES = "{{ 7 * 7 }}{% for x in [] %}<script>hostile()</script>"


@pytest.fixture(scope="module")
def one():
    return only_flow(made_product(cell=4.0, text=BRACES), 1)


@pytest.fixture(scope="module")
def page(one):
    return explore_map(one).get_root().render()


def test_the_map_library_is_in_the_page_and_nothing_is_fetched(page):
    assert assets.library_script()[:2000] in page
    assert not re.findall(r"<(?:script|link|img)[^>]+(?:src|href)=\"http", page)
    assert "tileLayer" not in page.replace(assets.library_script(), "")


def test_no_text_of_the_angler_s_reaches_the_template(page):
    assert "7 * 7" not in page
    assert "hostile()" not in page


def test_what_is_not_known_and_what_is_beyond_the_limits_is_drawn(one, page):
    for kind in ("unknown_water", "no"):
        assert BY_KIND[kind].words in page
    assert "People drown wading" in page
    grades = set(one.layers["wading"]["grade"])
    for grade in grades:
        assert BY_KIND[grade].words in page


def test_what_a_feature_shows_are_columns_of_its_layer(one):
    for layer, columns in SHOWN_COLUMNS.items():
        assert set(columns) <= set(one.layers[layer].columns)
        assert not {"note", "run", "hazard_note"} & set(columns)  # these hold what was typed
    water = one.layers["water"]
    assert json.loads(water[list(SHOWN_COLUMNS["water"])].to_json())


@pytest.mark.browser
def test_the_map_is_drawn_without_a_network(browser, one, tmp_path):
    path = tmp_path / "map.html"
    explore_map(one).save(str(path))
    with watched_page(browser) as watched:
        watched.page.goto(path.as_uri())
        watched.page.wait_for_selector("path.leaflet-interactive", state="attached", timeout=20000)
        assert watched.requests == [path.as_uri()]
        assert watched.messages == []
        assert watched.page.locator(".leaflet-control-layers").count() == 1
        watched.page.screenshot(path=str(tmp_path / "map.png"))
