"""Numbers on the map by the folder's locale."""

from __future__ import annotations

import pytest

from reachmap.base.language import written_in
from reachmap.base.words import UnitSystem
from reachmap.outputs.webmap import write_maps
from tests.outputs.made_product import made_product
from tests.outputs.webmap.steps import type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def told(page):
    return page.locator("#gauge-told").inner_text()


def test_with_a_decimal_comma_points_part_thousands(browser_page, tmp_path):
    with written_in("de_DE"):
        written = write_maps(made_product(units=UnitSystem.METRIC), tmp_path)[0]
    page = browser_page(written).page
    type_reading(page, "113,3")
    assert told(page) == "The map is at your 113,3 m³/s."
    type_reading(page, "2.400 cfs")
    assert told(page) == "The map is at your 2.400 cfs (68 m³/s)."
    type_reading(page, "67.96 m3/s")  # no part of a thousand
    assert told(page) == "The map is at your 67,96 m³/s."
    for shown in page.locator(".bar").all_inner_texts():
        assert shown.endswith(" m")
