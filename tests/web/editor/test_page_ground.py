"""What lies basemap, on the page: shaded ground, a fitted picture, own tiles, other files."""

import io

import geopandas as gpd
import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw

from reachmap.base.crs import transform_points
from tests.web.editor.folders import HOME
from tests.web.editor.test_basemap import dem
from tests.web.editor.test_page_life import drop

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_ground_model_is_shown_where_it_lies_and_spares_the_slope(open_sheet, tmp_path):
    (tmp_path / "home").mkdir()
    rows, columns = np.mgrid[0:300, 0:400]
    dem(tmp_path / "home" / "dem.tif", 100 + 5 * np.sin(columns / 20) - rows / 50)
    sheet = open_sheet(tmp_path / "home")
    assert sheet.page.evaluate("document.querySelector('.shaded').naturalWidth") > 300
    x, y = np.array([500_000.0, 500_800.0]), np.array([5_117_000.0, 5_116_400.0])
    lon, lat = transform_points(x, y, "EPSG:32607", "EPSG:4326")
    left, top = sheet.at((lon[0], lat[0]))
    right, bottom = sheet.at((lon[1], lat[1]))
    box = sheet.page.locator(".shaded").bounding_box()
    found = [box["x"], box["y"], box["x"] + box["width"], box["y"] + box["height"]]
    assert found == pytest.approx([left, top, right, bottom], abs=3)
    assert right - left > 300  # the page opens on it
    assert sheet.page.locator(".guide-step[data-state=done]").all_inner_texts() == [
        "✓\nSay where it is\ndone",
        "✓\nSay how steep it is\ndone",
    ]
    sheet.clean()


def test_layers_in_other_files_are_shown_pale_and_count(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    line = shapely.LineString([(HOME[0] + 0.001 * i, HOME[1]) for i in range(4)])
    path = tmp_path / "home" / "river.geojson"
    gpd.GeoDataFrame({"part": ["main"]}, geometry=[line], crs="EPSG:4326").to_file(path)
    before = path.read_bytes()
    sheet.page.evaluate("import('./page/client.js').then(m => m.loadAgain())")
    sheet.load()
    assert "river.geojson" in sheet.page.inner_text("#page-draw")
    assert "Draw the left bank" in sheet.page.inner_text(".guide-step[data-state=next]")
    sheet.begin("banks", "Outline")
    x, y = sheet.at((HOME[0] + 0.001, HOME[1] + 0.0004))
    for dx, dy in ((0, 0), (80, 0), (80, 60), (0, 60), (1, 1)):
        sheet.click(x + dx, y + dy)
    sheet.settle()
    assert [mark["values"]["side"] for mark in sheet.marks()] == ["left"]
    assert path.read_bytes() == before


def scan():
    """Return a made scan of a map: 800 by 600 pixels with two crosses."""
    picture = Image.new("RGB", (800, 600), "#dfe8d0")
    pen = ImageDraw.Draw(picture)
    for x, y in ((100, 100), (700, 150), (400, 500)):
        pen.line((x - 20, y, x + 20, y), fill="black", width=5)
        pen.line((x, y - 20, x, y + 20), fill="black", width=5)
    stream = io.BytesIO()
    picture.save(stream, "PNG")
    return stream.getvalue()


WHERE_ON_SCREEN = """([u, v]) => {
  const named = ['ground', 'fit', 'viewport'].map(n => import(`./page/${n}.js`));
  return Promise.all(named).then(([g, f, s]) => {
    const {fit, frame} = g.pictureFit();
    const box = document.getElementById('map').getBoundingClientRect();
    const [x, y] = s.onScreen(frame.round(f.apply(fit, [u, v])));
    return [x + box.left, y + box.top]; }); }"""
"""Where a pixel of the picture has come to lie in the window."""

INK = """([x, y]) => {
  const c = document.querySelector('.drawn'), b = c.getBoundingClientRect();
  const at = [(x - b.left) * c.width / b.width, (y - b.top) * c.height / b.height];
  return [...c.getContext('2d').getImageData(...at, 1, 1).data]; }"""
"""The colour painted at a pixel of the window."""

FETCHED = """() => new Promise(done => { const i = new Image();
  i.onload = () => done(true); i.onerror = () => done(false);
  i.src = 'https://other.example/x.png'; })"""
"""Whether the page may fetch a picture from anybody else."""


def test_a_picture_is_fitted_by_control_points_and_says_how_well(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    page = sheet.page
    drop(sheet, "scan.png", scan(), "image/png")  # before anybody said where the river is
    page.wait_for_selector("text=Fit it: add a pair")
    sheet.settle()

    def screen(u, v):
        return tuple(page.evaluate(WHERE_ON_SCREEN, [u, v]))

    truth = {
        (100, 100): (-141.303, 46.2015),
        (700, 150): (-141.297, 46.201),
        (400, 500): (-141.3, 46.1985),
    }
    for index, (spot, place) in enumerate(truth.items()):
        page.click("text=Fit it: add a pair" if index == 0 else "text=Add a pair")
        sheet.click(*screen(*spot))
        page.fill("#pair-place", f"{place[1]}, {place[0]}")
        page.click('#bar button:text-is("Put")')
        sheet.settle()
        if index:
            words = page.inner_text("#fit-words")
            assert f"Fitted by {index + 1} pairs, turned and scaled" in words
    told = sheet.state("state.basemap.picture")
    for point, spot in zip(told["points"], truth, strict=True):
        assert point[:2] == pytest.approx(spot, abs=1.5)
    off = page.evaluate("import('./page/picture.js').then(m => m.fitNow())")
    assert 0.5 < off["all"] < 60
    assert f"{off['all']:.1f} m" in page.inner_text("#fit-words")
    page.check("text=It may also be stretched")
    sheet.settle()
    assert "stretched" in page.inner_text("#fit-words")
    for spot, place in truth.items():
        assert screen(*spot) == pytest.approx(sheet.at(place), abs=1.5)
    sheet.load()
    page.wait_for_timeout(300)
    for spot, place in truth.items():
        assert screen(*spot) == pytest.approx(sheet.at(place), abs=1.5)
    inks = page.evaluate(INK, sheet.at((-141.297, 46.201)))
    assert max(inks[:3]) < 120  # the scan's black cross is painted where it belongs
    assert (tmp_path / "home" / "underlay").is_dir()
    sheet.clean()


def test_only_the_anglers_own_tiles_may_be_fetched(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    page = sheet.page
    page.fill("#start-place", "46.2, -141.3")
    page.press("#start-place", "Enter")
    sheet.settle()
    asked = []
    tile = io.BytesIO()
    Image.new("RGB", (256, 256), "#88aa99").save(tile, "PNG")
    page.route(
        "https://tiles.example/**",
        lambda route: (
            asked.append(route.request.headers),
            route.fulfill(body=tile.getvalue(), content_type="image/png"),
        ),
    )
    page.click("#tab-basemap")
    page.fill("#tiles-address", "https://{s}.tiles.example/{z}/{x}/{y}.png")
    page.click("text=Use them")
    page.wait_for_selector("#page-basemap [role=alert]:has-text('no address of tiles')")
    page.fill("#tiles-address", "https://tiles.example/{z}/{x}/{y}.png")
    page.click("text=Use them")
    page.wait_for_selector("img.leaflet-tile-loaded")
    assert asked
    assert all("referer" not in headers for headers in asked)
    outside = {one for one in sheet.watched.requests if not one.startswith(sheet.served.origin)}
    assert all(one.startswith("https://tiles.example/") for one in outside)
    policy = sheet.served.ask("")[1]["Content-Security-Policy"]
    assert policy.count("http") == 1
    assert page.evaluate(FETCHED) is False
