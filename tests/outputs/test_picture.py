"""Small pictures for notebooks: what is drawn, what is escaped, what is never left out."""

from __future__ import annotations

import html
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from reachmap.base.words import Wet
from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.picture import map_picture, reach_picture
from reachmap.pipeline.any_flow import only_flow
from tests.outputs.made_product import made_product

HOSTILE = "</svg><script>alert(\"x\")</script>&amp; 'y'"


@pytest.fixture(scope="module")
def product():
    return only_flow(made_product(cell=4.0, text=HOSTILE), 1)


def paths(page, **wanted):
    """The paths of a picture with these attributes."""
    picture = ET.fromstring(re.search(r"<svg.*</svg>", page, re.DOTALL)[0])
    found = picture.iter("{http://www.w3.org/2000/svg}path")
    return [one for one in found if wanted.items() <= one.attrib.items()]


def test_every_text_of_the_angler_s_is_escaped(product):
    for page in (reach_picture(product.markup), map_picture(product)):
        assert "<script" not in page
        assert html.escape(HOSTILE) in page
        assert paths(page)


def test_banks_rivers_and_hazards_are_drawn(product):
    page = reach_picture(product.markup)
    drawn = product.markup
    assert len(paths(page, fill=BY_KIND["hazard"].day.ink)) == len(drawn.hazards) > 0
    assert len(paths(page, stroke=BY_KIND["lane"].day.ink)) == len(drawn.rivers)
    assert f"{len(drawn.banks)} bank polygons" in page
    numbers = [float(n) for one in paths(page) for n in re.findall(r"-?\d+\.\d", one.get("d"))]
    assert min(numbers) >= 0
    assert max(numbers) <= 560


def test_what_is_not_known_is_hatched_and_goes_when_it_is_known(product):
    hatch = {"fill": "none", "stroke": BY_KIND["unknown_water"].day.ink}
    before = len(paths(map_picture(product), **hatch))
    wading = product.layers["wading"]
    stated = int(wading["grade"].isin(["no", "unknown"]).sum())
    assert before > stated > 0  # grades and the patch nobody knows
    known = product.flows.copy(deep=True)
    known["wet"].values[known["wet"].values == Wet.UNKNOWN] = Wet.NO
    assert len(paths(map_picture(replace(product, flows=known)), **hatch)) == stated
    layers = {**product.layers, "wading": wading[wading["grade"] == "easy"]}
    assert len(paths(map_picture(replace(product, layers=layers)), **hatch)) == before - stated


def test_the_caution_stands_below_the_map(product):
    assert "People drown wading" in map_picture(product)
    assert "quick way" not in map_picture(product)
    assert "quick way" in map_picture(replace(product, preview=True))
