"""Public services on the drawing page: listed when asked, fetched where ticked, guarded."""

from __future__ import annotations

import time

import pytest

from tests.axe import findings
from tests.browser import PHONE
from tests.online.conftest import services  # noqa: F401 - a fixture
from tests.web.editor.serving import serving

BOX = [-89.54, 43.10, -89.49, 43.12]


def ended(served):
    """Wait until nothing is being fetched and return what came."""
    for _ in range(300):
        told = served.told("find/progress")
        if not told["running"]:
            return told
        time.sleep(0.05)
    raise AssertionError(told)


@pytest.mark.usefixtures("services")
def test_what_is_ticked_is_fetched_into_the_folder(tmp_path):
    with serving(tmp_path / "reach") as served:
        told = served.told("find", json_body={"box": BOX})
        assert [one["name"] for one in told["offers"]][:2] == ["terrain-1m", "terrain-3m"]
        assert not list((tmp_path / "reach").glob("ground*"))  # a listing writes nothing
        started = served.told("find/fetch", json_body={"names": ["terrain-10m", "river"]})
        assert started["running"]
        end = ended(served)
        assert end["wrong"] == ""
        assert len(list((tmp_path / "reach").glob("ground-3dep-10m*.tif"))) == 1
        # the river is brought in by the page, like a dropped file, and never drawn behind it
        assert [one["layer"] for one in end["found"]] == ["river"]
        assert (tmp_path / "reach" / "found-river.geojson").is_file()
        assert not (tmp_path / "reach" / "river.geojson").exists()
        assert served.told("drawing")["relief"]  # the ground is shown without a new start


@pytest.mark.usefixtures("services")
def test_only_our_own_page_may_ask_the_network(tmp_path):
    with serving(tmp_path / "reach") as served:
        other = {"Origin": "http://elsewhere.example"}
        for path in ("find", "find/fetch"):
            status, _, _ = served.ask(path, json_body={"box": BOX}, headers=other)
            assert status == 403
        outside = served.address.replace(served.address.rstrip("/").rsplit("/", 1)[1], "guess")
        status, _, _ = type(served)(outside).ask("find", json_body={"box": BOX})
        assert status == 404


ODD = {
    "no box": ("find", {}, "it shows no place"),
    "words": ("find", {"box": ["a", 1, 2, 3]}, "it shows no place"),
    "the world": ("find", {"box": [-170, -60, 170, 60]}, "km a side"),
    "not listed": ("find/fetch", {"names": ["terrain-1m"]}, "nothing is ticked"),
}


@pytest.mark.parametrize("case", ODD)
def test_an_odd_message_is_answered_in_words(tmp_path, case):
    path, message, wanted = ODD[case]
    with serving(tmp_path / "reach") as served:
        status, _, body = served.ask(path, json_body=message)
    assert status == 422
    assert wanted in body.decode()


def shown_at(sheet, box):
    """Show a box on the map, and wait until it stands."""
    sheet.page.evaluate(
        """([west, south, east, north]) => import('./page/viewport.js').then(({view}) =>
          view.map.fitBounds([[south, west], [north, east]], {animate: false}))""",
        box,
    )
    sheet.page.wait_for_timeout(150)


@pytest.mark.browser
@pytest.mark.usefixtures("services")
@pytest.mark.parametrize("size", [None, PHONE])
def test_the_page_lists_ticks_fetches_and_takes_the_river_in(open_sheet, tmp_path, size):
    window = {} if size is None else {"size": size}
    sheet = open_sheet(tmp_path / "reach", bypass_csp=True, **window)
    page = sheet.page
    page.click("#tab-basemap")
    shown_at(sheet, [-89.53, 43.105, -89.50, 43.115])
    page.click("[data-keep=find-list]")
    page.wait_for_selector(".offer")
    assert page.locator(".offer").count() == 6
    for _ in ("by day", "by night"):
        assert findings(page) == []
        page.click("#night")
    page.check('[data-keep="tick-river"]')
    page.check('[data-keep="tick-terrain-10m"]')
    page.click("[data-keep=find-fetch]")
    page.wait_for_selector("#take-in")
    page.click("#take-in")
    sheet.settle()
    assert [one["layer"] for one in sheet.marks()] == ["river"]
    page.click("#tab-basemap")
    page.click("[data-keep=find-reload]")
    page.wait_for_selector("html[data-ready]")
    assert sheet.state("Boolean(state.relief)")
    sheet.clean()


@pytest.mark.browser
def test_without_a_network_the_page_says_how_to_get_it_by_hand(open_sheet, tmp_path, services):  # noqa: F811
    services.answers.clear()
    sheet = open_sheet(tmp_path / "reach")
    sheet.page.click("#tab-basemap")
    shown_at(sheet, BOX)
    sheet.page.click("[data-keep=find-list]")
    sheet.page.wait_for_selector("text=Nothing is offered there.")
    assert sheet.page.locator("text=By hand:").count() == 4
