"""How the page looks and holds up: axe-core, touch targets, day and night, live checks."""

import pytest

from tests.axe import findings
from tests.browser import DESK, PHONE
from tests.web.editor.folders import bank, body, river, sounding
from tests.web.editor.test_basemap import picture
from tests.web.editor.test_imports import GPX

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SIZES = pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])

STATES = {
    "empty": (),
    "draw": (),
    "river": ("#tab-river",),
    "basemap": ("#tab-basemap",),
    "check": ("#tab-check",),
    "card of a line": ("[data-mark] >> nth=0",),
    "card of an outline": ("[data-mark] >> nth=1",),
    "card of a point": ("[data-mark] >> nth=2",),
    "drawing": ('[data-layer="river"]', "text=Type a point"),
    "strip": ('[data-way="Strip"]',),
}

SMALL = """() => [...document.querySelectorAll(
    'button, summary, select, a.plate-button, .switch, .chip-choice, input:not([type=file])')]
  .filter(e => e.offsetParent && !e.matches('.chip-choice input, .switch input'))
  .map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect().width,
    e.getBoundingClientRect().height])
  .filter(([, w, h]) => w < 43.9 || h < 43.9)"""


@pytest.fixture
def page_of(open_sheet, tmp_path):
    """Open the page of a folder, with a few marks or none."""

    def opened(size, *, drawn=True, **more):
        sheet = open_sheet(tmp_path / "home", size, **more)
        if drawn:
            sheet.served.told("drawing", json_body=body([river(), bank(), sounding(depth="900")]))
            sheet.load()
        sheet.checked()
        return sheet

    return opened


def bring(sheet, name):
    """Bring a freshly loaded page into a state."""
    for step in STATES[name]:
        sheet.page.locator(step).first.click()
        sheet.page.wait_for_timeout(120)


@SIZES
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_a_cold_thumb_hits_everything(page_of, size, scheme):
    sheet = page_of(size, color_scheme=scheme, bypass_csp=True)
    for name in STATES:
        if name == "empty":
            sheet.served.told("drawing", json_body=body([], 2))
        elif name == "draw":
            sheet.served.told(
                "drawing", json_body=body([river(), bank(), sounding(depth="900")], 3)
            )
        sheet.load()
        sheet.checked()
        bring(sheet, name)
        hold_up(sheet, name)
    sheet.clean()


@SIZES
def test_dropped_files_pictures_and_trouble_hold_up_too(page_of, size):
    sheet = page_of(size, bypass_csp=True)
    sheet.page.set_input_files("#bring", {"name": "a.gpx", "mimeType": "", "buffer": GPX})
    sheet.page.wait_for_selector("#take-in")
    hold_up(sheet, "a dropped file")
    sheet.page.click("text=Leave it")
    scan = {"name": "scan.png", "mimeType": "", "buffer": picture(size=(400, 300))}
    sheet.page.set_input_files("#bring", scan)
    sheet.page.wait_for_selector("text=Fit it: add a pair")
    sheet.page.wait_for_timeout(200)
    hold_up(sheet, "a picture")
    sheet.page.click("text=Fit it: add a pair")
    hold_up(sheet, "a pair begun")
    sheet.page.keyboard.press("Escape")
    version = sheet.served.told("state")["version"]
    sheet.served.told("drawing", json_body=body([], version))
    sheet.page.evaluate("dispatchEvent(new Event('focus'))")
    sheet.page.wait_for_selector("#load-again")
    hold_up(sheet, "a stale tab")
    sheet.clean()


def hold_up(sheet, name):
    """Let axe look at the page as it stands; every target is 44 pixels, nothing is cut off."""
    assert (name, findings(sheet.page)) == (name, [])
    assert (name, sheet.page.evaluate(SMALL)) == (name, [])
    assert sheet.page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_night_and_day_by_the_button(page_of):
    sheet = page_of(DESK)
    paper = "getComputedStyle(document.body).backgroundColor"
    day = sheet.page.evaluate(paper)
    sheet.page.click("#night")
    assert sheet.page.evaluate(paper) != day
    sheet.load()
    assert sheet.page.evaluate(paper) != day  # it is remembered
    sheet.page.click("#night")
    assert sheet.page.evaluate(paper) == day


def test_live_faults_are_the_checks_and_lead_to_their_marks(page_of):
    sheet = page_of(DESK)
    page = sheet.page
    page.click("#tab-check")
    words = page.inner_text("#page-check")
    assert "no bank on river right is drawn" in words
    assert page.inner_text("#fault-count") == str(page.locator(".fault").count())
    page.click(".fault:has-text('soundings') button")
    page.wait_for_selector("input[name=depth]")
    assert "Meant in" in page.inner_text("#card-faults") or "Wants" in page.inner_text(
        "#card-faults"
    )
    page.fill("input[name=depth]", "9")
    page.press("input[name=depth]", "Tab")
    sheet.checked()
    assert page.inner_text("#card-faults") == ""


def test_the_first_page_says_where_to_begin(page_of):
    sheet = page_of(PHONE, drawn=False)
    assert sheet.page.inner_text("#page-draw h2 >> nth=0") == "Begin"
    assert sheet.page.is_visible("#start-place")
    sheet.page.fill("#start-place", "somewhere")
    sheet.page.press("#start-place", "Enter")
    sheet.page.wait_for_selector("text=Type latitude, then longitude")
