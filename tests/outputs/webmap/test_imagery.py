"""The angler's own picture from the air in the page: within its room, under the water, switched."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from reachmap.base.crs import WEB_MERCATOR, WGS84, transform_points
from reachmap.base.errors import MarkupError
from reachmap.base.grid import Grid
from reachmap.outputs.webmap import MapSettings, write_maps
from reachmap.outputs.webmap.imagery import BASE64, LEAST_BYTES, underlay
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.text.map_page import NO_ROOM, NOT_HERE
from tests.base.made_imagery import RED, geotiff, mbtiles, pmtiles
from tests.outputs.made_product import made_product
from tests.outputs.webmap.steps import settle


@pytest.fixture(scope="module")
def product():
    return made_product()


def page_of(product):
    return PageGrid.over(Grid.of(product.ground))


def with_imagery(product, path, credit=""):
    plan = replace(product.markup.plan, imagery_credit=credit)
    return replace(product, markup=replace(product.markup, imagery=path, plan=plan))


@pytest.fixture
def pictured(product, tmp_path):
    """The made product with a picture over all of its ground."""
    bounds = Grid.of(product.ground).bounds
    path = geotiff(tmp_path / "imagery.tif", bounds, product.markup.crs)
    return with_imagery(product, path, "County survey <b>2031</b>")


def opened(picture) -> np.ndarray:
    return np.array(Image.open(io.BytesIO(picture.data)).convert("RGBA"))


def test_no_picture_is_no_underlay(product):
    assert underlay(product, page_of(product), 10**7).picture is None
    assert underlay(product, page_of(product), 10**7).note == ""


def test_the_picture_lies_where_it_belongs_and_is_clear_off_the_mapped_ground(pictured, product):
    made = underlay(pictured, page_of(product), 10**7).picture
    colours = opened(made)
    assert colours.shape == (made.height, made.width, 4)
    # a place in the west of the reach, found through PROJ alone, is red
    grid = Grid.of(product.ground)
    x = grid.west + 0.25 * (grid.bounds[2] - grid.west)
    line_x, line_y = product.ground["line_x"].to_numpy(), product.ground["line_y"].to_numpy()
    at = int(np.abs(line_x - x).argmin())
    east, north = (np.array([one]) for one in (line_x[at], line_y[at]))
    longitude, latitude = transform_points(east, north, product.markup.crs, WGS84)
    edges = np.array([[made.west, made.south], [made.east, made.north]])
    (x0, x1), (y0, y1) = transform_points(edges[:, 0], edges[:, 1], WGS84, WEB_MERCATOR)
    px, py = transform_points(longitude, latitude, WGS84, WEB_MERCATOR)
    row = int((y1 - py[0]) / (y1 - y0) * made.height)
    column = int((px[0] - x0) / (x1 - x0) * made.width)
    assert colours[row, column, 3] == 255
    assert np.abs(colours[row, column, :3].astype(int) - RED).max() < 40  # lossy
    bare = replace(pictured, ground=product.ground.copy(deep=True))
    bare.ground["bed"].to_numpy()[:, : bare.ground.sizes["x"] // 2] = np.nan
    half = opened(underlay(bare, page_of(product), 10**7).picture)
    assert (half[:, : made.width // 4, 3] == 0).all()
    assert (half[:, made.width * 3 // 4 :, 3] == 255).any()


def test_less_room_makes_it_coarser_and_never_larger(pictured, product):
    page = page_of(product)
    large = underlay(pictured, page, 10**7).picture
    room = int(len(large.data) * BASE64 * 0.6)
    small = underlay(pictured, page, max(room, LEAST_BYTES)).picture
    assert len(small.data) * BASE64 <= max(room, LEAST_BYTES)
    assert small.pixel_m >= large.pixel_m
    left_out = underlay(pictured, page, LEAST_BYTES - 1)
    assert left_out.picture is None
    assert left_out.note == NO_ROOM


def test_a_picture_of_elsewhere_says_so(product, tmp_path):
    far = geotiff(tmp_path / "imagery.tif", (0.0, 0.0, 50.0, 50.0), product.markup.crs)
    made = underlay(with_imagery(product, far), page_of(product), 10**7)
    assert (made.picture, made.note) == (None, NOT_HERE)


@pytest.mark.parametrize("make", [pmtiles, mbtiles])
def test_files_of_tiles_are_laid_too(product, tmp_path, make):
    page = page_of(product)
    path = make(tmp_path / f"imagery.{make.__name__}", page.grid.bounds, level=16)
    colours = opened(underlay(with_imagery(product, path), page, 10**7).picture)
    assert (colours[..., 3] > 0).mean() > 0.5
    shown = colours[colours[..., 3] > 0][:, :3].astype(int)
    assert ((shown[:, 0] > 150) | (shown[:, 2] > 150)).mean() > 0.95


def test_a_file_that_breaks_while_it_is_read_is_one_clear_message(pictured, product):
    path = pictured.markup.imagery
    path.write_bytes(path.read_bytes()[:900])
    with pytest.raises(MarkupError, match=r"imagery imagery\.tif"):
        underlay(pictured, page_of(product), 10**7)


def test_pages_keep_to_their_budget_with_it(pictured, tmp_path):
    settings = MapSettings(budget_bytes=2_000_000)
    paths = write_maps(pictured, tmp_path / "maps", settings=settings)
    assert all(path.stat().st_size < settings.budget_bytes for path in paths)
    held = [
        path.name for path in paths if "var image_overlay_own_imagery" in path.read_text("utf-8")
    ]
    assert held == ["index.html"]


def test_pages_that_are_sent_on_hold_no_imagery_and_no_switch_for_it(pictured, tmp_path):
    first, *others = write_maps(pictured, tmp_path / "maps")
    assert 'id="imagery-on"' in first.read_text("utf-8")
    for path in others:
        text = path.read_text("utf-8")
        assert 'id="imagery-on"' not in text
        assert "County survey" not in text


def test_a_page_without_one_holds_no_switch_for_it(product, tmp_path):
    text = write_maps(product, tmp_path)[0].read_text(encoding="utf-8")
    assert not re.search(r'id="imagery-', text)
    assert "var image_overlay_own_imagery" not in text


@pytest.mark.browser
@pytest.mark.slow
def test_it_lies_under_the_water_is_switched_and_made_clearer(pictured, tmp_path, browser_page):
    page = browser_page(write_maps(pictured, tmp_path / "maps")[0]).page
    picture = page.locator("img.leaflet-image-layer").nth(1)
    assert picture.evaluate("e => e.complete && e.naturalWidth > 0")
    water = "() => [...document.querySelectorAll('.leaflet-pane canvas')].length"
    assert page.evaluate(water) >= 1
    under = page.evaluate(
        """() => {
          const image = document.querySelectorAll('img.leaflet-image-layer')[1];
          const canvas = document.querySelector('.leaflet-pane canvas');
          const level = e => Number(getComputedStyle(e.closest('.leaflet-pane')).zIndex) || 0;
          return [level(image), level(canvas)]; }"""
    )
    assert under[0] <= under[1]
    page.click("#tab-layers")
    assert "County survey <b>2031</b>" in page.locator("#page-layers").inner_text()
    assert picture.evaluate("e => getComputedStyle(e).opacity") == "1"
    page.fill("#imagery-seen", "40")
    settle(page)
    assert picture.evaluate("e => getComputedStyle(e).opacity") == "0.4"
    page.locator("#imagery-on").uncheck()
    assert picture.evaluate("e => getComputedStyle(e).opacity") == "0"
    assert page.locator("#imagery-seen").is_disabled()
    page.locator("#imagery-on").check()
    assert picture.evaluate("e => getComputedStyle(e).opacity") == "0.4"
