"""What one does on a map page, for the browser tests."""

import numpy as np
import pytest
from pyproj import Transformer

from tests.browser import DESK, PHONE

SIZES = pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])


def settle(page):
    """Wait until the flow asked for is drawn."""
    page.wait_for_timeout(30)
    for _ in range(500):  # the page's policy forbids what wait_for_function does
        if not page.evaluate("reach.state.busy"):
            return
        page.wait_for_timeout(20)
    pytest.fail("the page stays busy")


def type_reading(page, text, unit=None):
    """Type what the gauge reads and press Enter."""
    if unit is not None:
        page.select_option("#gauge-unit", label=unit)
    page.fill("#gauge-reads", text)
    page.press("#gauge-reads", "Enter")
    settle(page)


def flow_of(page):
    return page.evaluate("reach.data.flows[reach.state.flow].label")


def ink(page):
    """Return how many px of the canvas are drawn on."""
    return page.evaluate(
        """() => {const c = document.querySelector('.leaflet-overlay-pane canvas');
        const p = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
        let n = 0; for (let i = 3; i < p.length; i += 4) n += p[i] > 0; return n;}"""
    )


def spot(product, flow, want):
    """Return longitude and latitude of a cell of a flow, with its depth and speed."""
    depth, wet = product.flows["depth"].to_numpy()[flow], product.flows["wet"].to_numpy()[flow]
    speed = np.hypot(
        product.flows["east_speed"].to_numpy()[flow], product.flows["north_speed"].to_numpy()[flow]
    )
    rows, columns = np.nonzero(want(depth, wet))
    row, column = rows[len(rows) // 2], columns[len(rows) // 2]
    place = Transformer.from_crs(product.markup.crs, "EPSG:4326", always_xy=True).transform(
        float(product.flows["x"][column]), float(product.flows["y"][row])
    )
    return place, float(depth[row, column]), float(speed[row, column])


def tap(page, place, size):
    """Bring a place to the middle of the map and tap it."""
    longitude, latitude = place
    if size == PHONE and page.locator("#panel").is_visible():
        page.click("[role=tab][aria-selected=true]")
    if page.locator(".reading").count():
        page.click(".reading .plate-button")
    page.evaluate(f"reach.map.setView([{latitude}, {longitude}], 19, {{animate: false}})")
    # a number of the list that happens to stand there would take the tap
    page.evaluate("document.querySelectorAll('.pin').forEach(p => (p.style.display = 'none'))")
    box = page.locator(".folium-map").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    if size == PHONE:
        page.touchscreen.tap(x, y)
    else:
        page.mouse.click(x, y)
    page.wait_for_selector(".reading")
    page.wait_for_timeout(400)  # two taps within a third of a second are one double tap
