"""Where one stands, on the map's page in a real Chromium that is told its place."""

from __future__ import annotations

import functools
import http.server
import math
import threading
from contextlib import contextmanager

import numpy as np
import pytest
from pyproj import Geod, Transformer
from shapely import LineString, Point

from tests.browser import DESK, PHONE, watched_page
from tests.outputs.webmap.steps import SIZES, spot, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]

GOOD_M = 1.0
"""A place so good that the circle lies within the cell."""


class Quiet(http.server.SimpleHTTPRequestHandler):
    """Serves a folder without a word."""

    def log_message(self, *_):
        """Print nothing."""


@pytest.fixture(scope="module")
def address(maps):
    server = http.server.ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(Quiet, directory=maps)
    )
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/index.html"
    server.shutdown()
    server.server_close()


@contextmanager
def placed(browser, address, place, size=DESK, accuracy=GOOD_M):
    """Give the page, told that one stands at a place, and what it says of it."""
    told = {"longitude": place[0], "latitude": place[1], "accuracy": accuracy}
    allowed = {"permissions": ["geolocation"], "geolocation": told}
    with watched_page(browser, size, offline=False, **allowed) as watched:
        page = watched.page
        page.goto(address)
        page.wait_for_selector("html[data-reach=ready]", state="attached")
        if size == PHONE:
            page.click("#tab-runs")
        page.click("[title='Show where I am']")
        page.wait_for_selector("html[data-place=told] .place-box p:nth-child(1):not(:empty)")
        page.wait_for_timeout(500)
        yield watched


def words(page):
    return page.locator(".place-box").inner_text()


def stern(page):
    return "is-stern" in page.get_attribute(".place-box", "class")


@SIZES
def test_beyond_the_limits_the_page_warns_first(browser, address, product, size):
    # the made product grades nothing at this flow where it is over 1.6 m deep
    place, depth, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth > 1.6))
    with placed(browser, address, place, size) as watched:
        told = words(watched.page)
        assert stern(watched.page)
        assert "NOT GRADED" in told or "BEYOND YOUR LIMITS" in told
        shown = math.ceil(depth / 0.05 - 1e-6) * 0.05 / 0.3048
        assert f"{shown:.1f} ft" in told
        assert watched.messages == []


def test_a_place_far_from_the_river_is_said_to_be_off_the_map(browser, address):
    with placed(browser, address, (-140.5, 46.5)) as watched:
        assert words(watched.page) == "You are off this map: it says nothing of the water here."
        assert stern(watched.page)


def test_a_poor_place_tells_nothing_of_the_water(browser, address, product):
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth < 0.4))
    with placed(browser, address, place, accuracy=150.0) as watched:
        assert "too rough to tell the water" in words(watched.page)
        assert "deep" not in words(watched.page)
        assert stern(watched.page)


def test_unknown_water_within_the_circle_is_a_warning(browser, address, product):
    """Dry or easy at the dot, but the phone may be off: the worst within its circle counts."""
    unknown = product.flows["wet"].to_numpy()[1] == 2
    assert unknown.any()
    ys, xs = np.nonzero(unknown)
    x, y = product.flows["x"].to_numpy()[xs[0]], product.flows["y"].to_numpy()[ys[0]]
    to_globe = Transformer.from_crs(product.markup.crs, "EPSG:4326", always_xy=True)
    with placed(browser, address, to_globe.transform(x, y), accuracy=3.0) as watched:
        assert "UNKNOWN" in words(watched.page).upper()
        assert stern(watched.page)
    dry_rows, dry_columns = np.nonzero(product.flows["wet"].to_numpy()[1] == 0)
    dry = np.column_stack(
        [product.flows["x"].to_numpy()[dry_columns], product.flows["y"].to_numpy()[dry_rows]]
    )
    away = to_globe.transform(*dry[np.argmin(np.hypot(*(dry - (x, y)).T))])
    with placed(browser, address, away, accuracy=30.0) as watched:
        first = watched.page.locator(".place-first").inner_text()
        assert first.startswith("Within 98 ft (30 m) of you there is UNKNOWN water")
        assert "You: dry ground" in words(watched.page)
        assert "is-close" in watched.page.get_attribute(".place-box", "class")


def test_beyond_the_flows_drawn_nothing_is_told_of_the_place(browser, address, product):
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth < 0.4))
    with placed(browser, address, place) as watched:
        page = watched.page
        type_reading(page, "9000")
        page.wait_for_timeout(300)
        assert words(page) == "This map says nothing of 9,000 cfs: stay out by it."


def test_a_place_of_a_while_ago_tells_nothing_more(browser, address, product):
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth < 0.4))
    with placed(browser, address, place) as watched:
        page = watched.page
        page.evaluate("reach.state.fix.at -= 50000")
        page.evaluate("reach.setFlow(2)")
        page.wait_for_timeout(400)
        assert words(page).startswith("Your place was last found 5")
        assert "deep" not in words(page)


def test_a_file_that_gets_no_place_says_why(browser, maps):
    with watched_page(browser, PHONE) as watched:
        page = watched.page
        page.goto((maps / "index.html").as_uri())
        page.wait_for_selector("html[data-reach=ready]", state="attached")
        page.click("#tab-runs")
        page.click("[title='Show where I am']")
        page.wait_for_timeout(200)
        assert words(page).startswith(
            "This browser refuses your place to a page opened from a file."
        )
        assert page.get_attribute("[title='Show where I am']", "aria-pressed") == "false"


def test_a_browser_that_may_not_tell_says_how_to_allow_it(browser, address):
    with watched_page(browser, DESK, offline=False) as watched:  # nothing was granted
        page = watched.page
        page.goto(address)
        page.wait_for_selector("html[data-reach=ready]", state="attached")
        page.click("[title='Show where I am']")
        page.wait_for_timeout(500)
        assert words(page).startswith("The browser may not tell this page where you are")


def test_direction_and_station_along_the_line_are_those_of_shapely(browser_page, maps, product):
    """The page's own walk along the river line against shapely's projection, in metres."""
    page = browser_page(maps / "index.html").page
    line = LineString(product.markup.main.line)
    to_globe = Transformer.from_crs(product.markup.crs, "EPSG:4326", always_xy=True)
    for share, beside in ((0.3, 12.0), (0.5, -15.0), (0.7, 9.0)):
        at = line.interpolate(share, normalized=True)
        ahead = line.interpolate(share * line.length + 1.0)
        east, north = ahead.x - at.x, ahead.y - at.y
        spot_xy = Point(at.x - north * beside, at.y + east * beside)  # river left for above 0
        longitude, latitude = to_globe.transform(spot_xy.x, spot_xy.y)
        found = page.evaluate(f"reach.byRiver(L.latLng({latitude}, {longitude}))")
        assert found["along"] == pytest.approx(line.project(spot_xy), abs=4.0)
        assert found["side"] == math.copysign(1, beside)


@SIZES
def test_the_map_turns_with_the_river_and_a_tap_still_reads_its_own_place(
    browser, address, product, size
):
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth > 1.0))
    with placed(browser, address, place, size) as watched:
        page = watched.page
        page.click("[title='Turn the map: downstream up']")
        page.wait_for_timeout(400)
        turn = page.evaluate("reach.state.turn")
        river = page.evaluate("reach.byRiver(reach.state.fix.place)")
        assert turn == pytest.approx(-math.atan2(river["east"], river["north"]))
        box = page.locator(".folium-map").bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        press = page.touchscreen.tap if size == PHONE else page.mouse.click
        press(x, y - 80)  # straight up the window is downstream
        page.wait_for_selector(".reading")
        page.wait_for_timeout(500)
        read = page.evaluate("reach.state.place")
        heading, _, far = Geod(ellps="WGS84").inv(*place, read["lng"], read["lat"])
        assert (heading + math.degrees(turn) + 180) % 360 - 180 == pytest.approx(0.0, abs=3.0)
        metres = page.evaluate("1 / (reach.sheet.view().k * reach.data.metre)")
        assert far == pytest.approx(80 * metres, rel=0.05)
        page.click("[title='Turn the map: north up']")
        page.wait_for_timeout(300)
        assert page.evaluate("[reach.state.turned, reach.state.turn]") == [False, 0]
        assert watched.messages == []


def test_a_turned_map_is_dragged_the_way_the_hand_goes(browser, address, product):
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth > 1.0))
    with placed(browser, address, place) as watched:
        page = watched.page
        page.click("[title='Turn the map: downstream up']")
        page.wait_for_timeout(400)
        turn = page.evaluate("reach.state.turn")
        box = page.locator(".folium-map").bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, y + 60, steps=6)
        page.wait_for_timeout(300)  # a hand that stops: the map does not slide on
        page.mouse.up()
        page.wait_for_timeout(300)
        centre = page.evaluate("[reach.map.getCenter().lng, reach.map.getCenter().lat]")
        heading, _, _ = Geod(ellps="WGS84").inv(*place, *centre)
        # what was 60 px down the window's upper side, downstream, is in the middle now
        assert (heading + math.degrees(turn) + 180) % 360 - 180 == pytest.approx(0.0, abs=4.0)


def test_the_whole_reach_and_a_run_s_card_lie_north_up(browser, address, product):
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth > 1.0))
    with placed(browser, address, place) as watched:
        page = watched.page
        for act in ("[title='Show the whole reach']", ".run-row >> nth=0"):
            page.click("[title='Turn the map: downstream up']")
            page.click(act)
            assert page.evaluate("reach.state.turned") is False


def test_an_edge_is_not_taken_from_a_poor_place(browser, address, product):
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth > 0.6))
    with placed(browser, address, place, accuracy=25.0) as watched:
        page = watched.page
        page.click("#note-button")
        page.click("[data-choice=edge]")
        page.click(".note-keep")
        assert "is good to 82 ft (25 m) only" in page.locator("#notes-said").inner_text()
        page.click("[data-choice=touch]")
        page.click(".note-keep")
        page.wait_for_timeout(300)
        (note,) = page.evaluate("reach.notes().notes")
        assert note["accuracy"] == 25
        assert "place good to 25 m" in page.evaluate("reach.notesCsv(reach.notes().notes)")


def test_easy_water_beside_deeper_water_is_told_as_what_it_is(browser, address, product):
    """What the page reads at the dot against the product's own depth and zone."""
    wading = product.layers["wading"]
    label = product.labels[1]
    zones = wading[(wading["flow_label"] == label) & (wading["grade"] == "easy")]
    if zones.empty:
        pytest.fail("the made product has no easy water at this flow")
    at = zones.geometry.iloc[0].representative_point()
    to_globe = Transformer.from_crs(product.markup.crs, "EPSG:4326", always_xy=True)
    with placed(browser, address, to_globe.transform(at.x, at.y)) as watched:
        told = words(watched.page)
        assert "within your limits" in told
        assert not stern(watched.page)
