"""The form in a real browser of phone size, and what comes of it in the database."""

from __future__ import annotations

import pytest

from reachmap.logbook.model import SeenKind
from reachmap.logbook.store import TripLog
from tests.axe import findings
from tests.browser import PHONE, watched_page
from tests.web.trip_form.conftest import serving_form

pytestmark = pytest.mark.browser


HOSTILE = "<img src=x onerror=document.title='caught'> {{7*7}} \u202edaer & \"quoted\""
PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c4890000000d49444154789c6360606060000000050001a5f645400000000049454e44ae426082"
)
FIELDS = {
    "run": "Bend 2 left",
    "minutes": "95",
    "swung": "dark, medium; ten feet of tip",
    "flow": "1,850",
    "clarity": "3.5",
    "water": "41",
    "note": HOSTILE,
}


@pytest.fixture
def phone(browser, served):
    place = {"latitude": 46.2, "longitude": -141.3, "accuracy": 6}
    with watched_page(
        browser,
        PHONE,
        offline=False,
        geolocation=place,
        permissions=["geolocation"],
        timezone_id="America/Vancouver",
    ) as watched:
        watched.page.set_default_timeout(10_000)
        watched.page.goto(served.address + "log")
        watched.page.wait_for_selector("html.scripted")
        yield watched


def kept(folder):
    with TripLog(folder / "log.gpkg") as log:
        return log.entries()


def add_row(page, kind, **fields):
    page.click("#add-row")
    row = page.locator("#rows .seen").last
    row.locator("select").select_option(kind)
    for name, text in fields.items():
        row.locator(f"[name=seen_{name}]").fill(text)
    return row


def test_a_trip_logged_on_a_phone_is_in_the_database(phone, served, tmp_path):
    page = phone.page
    for name, text in FIELDS.items():
        page.fill(f"[name={name}]", text)
    page.click("[aria-label='One more released']")  # and so landed, and so touched
    page.click("[aria-label='One more touches']")
    page.locator("fieldset").first.locator(".here").click()
    page.wait_for_selector("text=Within 6 m")
    add_row(page, "edge", note="by the alder").locator(".here").click()
    page.wait_for_selector("#rows >> text=Within 6 m")
    add_row(page, "sounding", value="2.5", place="46.2001, -141.3001")
    add_row(page, "speed", value="20", seconds="6", place="46.2002 -141.3002", note="stick")
    page.click(".main")
    page.wait_for_selector(".kept h2")
    assert "log?kept=" in page.url
    (entry,) = kept(tmp_path)
    assert page.locator(".kept").get_attribute("data-uid") == entry.uid
    assert entry.when.isoformat() == "2031-01-05T17:05:00-08:00"
    assert (entry.run, entry.swung, entry.note) == (FIELDS["run"], FIELDS["swung"], HOSTILE)
    assert entry.flow == pytest.approx(1850 * 0.3048**3)
    assert entry.flow_from == "typed"
    assert entry.clarity_m == pytest.approx(3.5 * 0.3048)
    assert entry.water_c == pytest.approx(5.0)  # 41 F is 5 C exactly
    assert (entry.minutes, entry.touches, entry.landed, entry.released) == (95, 2, 1, 1)
    assert (entry.x, entry.y) == pytest.approx((-141.3, 46.2))
    edge, depth, speed = entry.seen
    assert (edge.kind, edge.note, edge.y) == (SeenKind.EDGE, "by the alder", 46.2)
    assert (depth.kind, depth.value) == (SeenKind.SOUNDING, pytest.approx(0.762))
    assert (speed.kind, speed.value) == (SeenKind.SPEED, pytest.approx(20 * 0.3048 / 6))
    assert phone.messages == []
    assert all(asked.startswith(served.origin) for asked in phone.requests)


def test_hostile_words_stay_words(phone):
    page = phone.page
    page.fill("[name=run]", HOSTILE[:200])
    page.fill("[name=note]", HOSTILE)
    page.click(".main")
    page.wait_for_selector(".kept h2")
    assert page.title() == "Log a trip"
    assert page.locator("img").count() == 0
    shown = page.locator(".past .note").inner_text()
    assert "<img src=x" in shown
    assert "{{7*7}}" in shown
    page.click(".past li a")
    page.wait_for_selector("#take-out")
    assert page.input_value("[name=note]") == HOSTILE
    assert phone.messages == []


def test_faults_stand_beside_the_fields_and_nothing_typed_is_lost(phone, tmp_path):
    page = phone.page
    page.fill("[name=flow]", "a lot")
    page.fill("[name=minutes]", "9999")
    page.fill("[name=note]", "long words")
    add_row(page, "sounding", value="2.5")
    page.click(".main")
    page.wait_for_selector("#summary:not([hidden])")
    told = {
        one.get_attribute("data-for"): one.inner_text()
        for one in page.locator(".fault[data-for]:not([hidden])").all()
    }
    assert told == {
        "flow": "'a lot' is not a flow; like 2400, or 68 m3/s",
        "minutes": "wants 0 to 1440",
    }
    assert "say where" in page.locator("#rows [data-row]").inner_text()
    for name in told:
        field, fault = (
            page.locator(one).bounding_box()
            for one in (f"[name={name}]", f".fault[data-for={name}]")
        )
        assert 0 <= fault["y"] - (field["y"] + field["height"]) < 12, "not beside its field"
    assert page.evaluate("document.activeElement.name") == "minutes"  # the first on the page
    assert page.input_value("[name=note]") == "long words"
    assert not (tmp_path / "log.gpkg").exists()
    page.fill("[name=flow]", "")
    page.fill("[name=minutes]", "60")
    page.locator("#rows .here").click()
    page.wait_for_selector("#rows >> text=Within 6 m")
    page.click(".main")
    page.wait_for_selector(".kept h2")
    assert len(kept(tmp_path)) == 1


def test_a_kept_trip_is_changed_and_taken_out_with_a_copy_left(phone, tmp_path):
    page = phone.page
    page.fill("[name=run]", "Ledge")
    page.click(".main")
    page.wait_for_selector(".kept h2")
    page.click("text=Change it")
    page.wait_for_selector("#take-out")
    page.fill("[name=touches]", "3")
    page.click(".main")
    page.wait_for_selector(".kept h2")
    assert [(entry.run, entry.touches) for entry in kept(tmp_path)] == [("Ledge", 3)]
    page.click("text=Change it")
    page.wait_for_selector("#take-out")
    page.once("dialog", lambda asked: asked.accept())
    page.click("#take-out .grave")
    page.wait_for_selector("text=Taken out")
    assert kept(tmp_path) == []
    copies = sorted((tmp_path / "log-backups").glob("*.gpkg"))
    with TripLog(copies[-1]) as log:
        assert [entry.touches for entry in log.entries()] == [3]


def test_the_gauge_fills_an_empty_flow(phone, tmp_path):
    page = phone.page
    page.wait_for_selector("text=does not know this hour")
    page.fill("[name=time]", "08:30")
    page.locator("[name=time]").dispatch_event("change")
    page.wait_for_selector("text=Empty: 1,413 cfs, by the gauge.")
    page.click(".main")
    page.wait_for_selector(".kept h2")
    (entry,) = kept(tmp_path)
    assert (entry.flow, entry.flow_from) == (40.0, "gauge")


def test_a_picture_is_kept_in_the_folder_and_shown(phone, tmp_path):
    page = phone.page
    page.set_input_files("#picture", {"name": "x.png", "mimeType": "image/png", "buffer": PIXEL})
    page.wait_for_selector("text=The picture is kept in the folder.")
    page.click(".main")
    page.wait_for_selector(".kept h2")
    (entry,) = kept(tmp_path)
    assert (tmp_path / entry.photo).read_bytes() == PIXEL
    assert page.locator(".past img").get_attribute("src") == f"log/photo/{entry.photo[7:]}"


def test_large_enough_for_cold_hands_and_no_wider_than_the_phone(phone):
    page = phone.page
    page.click("#add-row")
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide == PHONE[0]
    for one in page.locator("button:visible, input:visible, select:visible, a:visible").all():
        box = one.bounding_box()
        if box["width"] > 2:  # the picture's input lies hidden below its label
            assert box["height"] >= 44, one.evaluate("one => one.outerHTML")


def test_what_was_typed_outlives_the_server(browser, tmp_path):
    with watched_page(browser, PHONE, offline=False) as watched:
        page = watched.page
        with serving_form(tmp_path) as served:
            page.goto(served.address + "log")
            page.wait_for_selector("html.scripted")
            page.fill("[name=note]", "an evening's words")
        page.click(".main")
        page.wait_for_selector("text=does not answer")
        assert page.input_value("[name=note]") == "an evening's words"
        assert not (tmp_path / "log.gpkg").exists()


@pytest.mark.parametrize("light", ["day", "night"])
def test_axe_finds_nothing_on_the_form_with_its_faults(browser, served, light):
    with watched_page(browser, PHONE, offline=False, bypass_csp=True) as watched:
        page = watched.page
        page.goto(served.address + "log")
        page.wait_for_selector("html.scripted")
        if light == "night":
            page.click("#night")
        add_row(page, "sounding", value="1")
        add_row(page, "speed", value="3")
        page.fill("[name=minutes]", "9999")
        page.click(".main")
        page.wait_for_selector("#summary:not([hidden])")
        assert findings(page) == []


def test_a_day_ahead_is_asked_about_and_another_day_asks_anew(phone, tmp_path):
    page = phone.page
    assert not page.is_visible("#sure-box")
    page.fill("[name=date]", "2033-01-05")
    page.click(".main")
    page.wait_for_selector("text=is 2033-01-05 right?")
    page.check("[name=sure]")
    page.fill("[name=date]", "2034-01-05")
    assert not page.is_visible("#sure-box")
    page.click(".main")
    page.wait_for_selector("text=is 2034-01-05 right?")
    assert kept(tmp_path) == []
    page.check("[name=sure]")
    page.click(".main")
    page.wait_for_selector(".kept h2")
    (entry,) = kept(tmp_path)
    assert entry.when.year == 2034
