"""Notes taken on the map's page, in a real Chromium: kept, listed, taken out, carried home."""

from __future__ import annotations

import math
import re

import pytest
from playwright.sync_api import expect

from reachmap.logbook.exchange import from_csv
from reachmap.logbook.model import SeenKind
from reachmap.logbook.store import TripLog
from tests.outputs.webmap.steps import SIZES, spot, tap, type_reading

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PLACE = (-140.9956855, 46.2044424)
NASTY = '=2+3, "quoted"\nsecond line <b>'
NO_BASE = "Object.defineProperty(window, 'indexedDB', {get() { throw new Error('off'); }});"
NO_SMALL = "Object.defineProperty(window, 'localStorage', {get() { throw new Error('off'); }});"
"""What a browser does that keeps nothing for a page."""


def note(page, kind, *, words="", depth=None, photo=""):
    """Fill the form for the place that was tapped, and keep the note."""
    page.click(f"[data-choice={kind}]")
    if depth is not None:
        page.fill("#note-depth", depth)
    if words or photo:
        page.evaluate("document.querySelector('.note-form details').open = true")
        page.fill("#note-words", words)
        page.fill("#note-photo", photo)
    page.click(".note-keep")
    page.wait_for_timeout(250)


def said(page):
    return page.locator("#notes-said").inner_text()


def kept(page):
    return page.evaluate("reach.notes().notes.filter(note => !note.away).length")


def opened(browser_page, path, product, size, **options):
    """Open the page and the form for a place on the water that was tapped."""
    watched = browser_page(path, size, **options)
    place, _, _ = spot(product, 1, lambda depth, wet: (wet == 1) & (depth > 0.6))
    tap(watched.page, place, size)
    watched.page.click(".reading >> text=Note this place")
    return watched, place


def reloaded(page):
    page.reload()
    page.wait_for_selector("html[data-reach=ready]", state="attached")
    page.wait_for_timeout(300)


@SIZES
def test_every_kind_of_note_goes_home_as_the_log_takes_it(
    browser_page, maps, product, size, tmp_path
):
    watched, (longitude, latitude) = opened(browser_page, maps / "index.html", product, size)
    page = watched.page
    note(page, "touch")
    note(page, "edge")
    note(page, "depth", depth="2,5", words=NASTY)
    note(page, "hold")
    note(page, "words", words="gate shut", photo="IMG_0412")
    assert kept(page) == 5
    reloaded(page)
    assert kept(page) == 5  # never lost by loading the page again
    page.click("#note-button")
    with page.expect_download() as loading:
        page.click("text=Carry home: save as a file")
    name = loading.value.suggested_filename
    assert re.fullmatch(r"notes-\d{8}T\d{4}\.csv", name)
    loading.value.save_as(tmp_path / name)
    text = (tmp_path / name).read_text(encoding="utf-8")
    entries = from_csv(text)
    assert [[str(one.kind) for one in entry.seen] for entry in entries] == [
        [],
        ["edge"],
        ["sounding"],
        ["hold"],
        [],
    ]
    assert [entry.is_fishing for entry in entries] == [True, False, False, False, False]
    depth, hold = entries[2].seen[0], entries[3].seen[0]
    assert depth.value == pytest.approx(2.5 * 0.3048)  # the foot of 1959
    assert entries[2].note == NASTY
    assert hold.kind is SeenKind.HOLD
    assert hold.note == "bucket"
    assert entries[4].photo == "IMG_0412"
    for entry in entries:
        assert entry.x == pytest.approx(longitude, abs=2e-5)
        assert entry.y == pytest.approx(latitude, abs=2e-5)
        assert entry.when.tzinfo is not None
        assert math.isnan(entry.flow)  # nobody read the gauge: the page's flow is no reading
    with TripLog(tmp_path / "log.gpkg") as log:
        assert (log.add(*entries), log.add(*entries)) == (5, 0)
    assert watched.messages == []


def test_a_reading_typed_now_is_the_flow_of_a_note(browser_page, maps, product):
    watched, _ = opened(browser_page, maps / "index.html", product, (1280, 800))
    page = watched.page
    type_reading(page, "1943")
    page.click("#note-button")
    assert page.is_checked("#note-flow")
    assert "The river runs at 1,943 cfs now" in page.locator(".note-flow").inner_text()
    note(page, "edge")
    page.uncheck("#note-flow")
    note(page, "edge")
    entries = from_csv(page.evaluate("reach.notesCsv(reach.notes().notes)"))
    assert entries[0].flow == pytest.approx(1943 * 0.3048**3, rel=1e-5)  # not the drawn 2,400
    assert entries[0].flow_from == "typed"
    assert math.isnan(entries[1].flow)


def test_a_note_that_says_nothing_is_refused_and_what_was_typed_stays(browser_page, maps, product):
    page = opened(browser_page, maps / "index.html", product, (1280, 800))[0].page
    for typed in ("", "deep", "-1", "400"):
        note(page, "depth", depth=typed)
        assert said(page) == "Type the depth as a number of ft, 0 to 196."
        assert page.input_value("#note-depth") == typed
    note(page, "words")
    assert said(page) == "Type a few words, or a photo's name."
    assert kept(page) == 0
    page.reload()
    page.wait_for_selector("html[data-reach=ready]", state="attached")
    page.click("#note-button")
    note(page, "edge")
    assert said(page) == "Press 'Where I stand', or tap the map where it is."
    assert kept(page) == 0


@SIZES
def test_taking_out_and_keeping_can_be_undone(browser_page, maps, product, size):
    page = opened(browser_page, maps / "index.html", product, size)[0].page
    note(page, "edge")
    assert said(page).startswith("Kept on this phone: Edge.")
    page.click("#notes-said >> text=Undo")
    page.wait_for_timeout(250)
    assert kept(page) == 0
    note(page, "hold")
    page.click("text=Take out")
    page.wait_for_timeout(250)
    assert kept(page) == 0
    page.click("#notes-said >> text=Undo")
    page.wait_for_timeout(250)
    reloaded(page)
    assert kept(page) == 1


def test_notes_stay_until_they_are_said_to_be_home(browser_page, maps, product):
    page = opened(browser_page, maps / "index.html", product, (1280, 800))[0].page
    note(page, "edge")
    assert page.locator("text=They are carried home").count() == 0
    with page.expect_download():
        page.click("text=Carry home: save as a file")
    assert kept(page) == 1
    note(page, "hold")  # taken since: no part of the file
    page.click("text=They are carried home: put 1 away")
    page.wait_for_timeout(250)
    assert kept(page) == 1
    assert page.locator(".note-row").inner_text().startswith("20")
    assert "Bucket" in page.locator(".note-row").inner_text()
    reloaded(page)
    page.click("#note-button")
    page.click("text=Put them back")
    page.wait_for_timeout(250)
    assert kept(page) == 2


def test_a_file_is_shared_where_the_browser_offers_it(browser_page, maps, product):
    page = opened(browser_page, maps / "index.html", product, (390, 844))[0].page
    page.evaluate(
        """() => { navigator.canShare = () => true;
        navigator.share = async ({files}) => {
          if (window.refuse) throw new Error('no');
          window.shared = await files[0].text(); }; }"""
    )
    note(page, "edge")
    page.evaluate("window.refuse = true")
    page.click("text=Carry home: share the file")
    expect(page.locator("#notes-said")).to_contain_text("Nothing was shared")
    page.evaluate("window.refuse = false")
    page.click("text=Carry home: share the file")
    expect(page.locator("#notes-said")).to_contain_text("Saved as notes-")
    assert len(from_csv(page.evaluate("window.shared"))) == 1


@pytest.mark.parametrize(
    ("scripts", "kind"), [((NO_BASE,), "small"), ((NO_BASE, NO_SMALL), "none")]
)
def test_without_a_database_the_page_says_what_it_keeps(browser, maps, scripts, kind):
    context = browser.new_context(viewport={"width": 390, "height": 844}, offline=True)
    for script in scripts:
        context.add_init_script(script)
    page = context.new_page()
    page.goto((maps / "index.html").as_uri())
    page.wait_for_selector("html[data-reach=ready]", state="attached")
    page.evaluate(f"reach.readHere({{lat: {PLACE[1]}, lng: {PLACE[0]}}})")
    page.click(".reading >> text=Note this place")
    note(page, "edge")
    assert page.evaluate("reach.notes().kind") == kind
    assert kept(page) == 1
    warned = "your notes last until it is closed" in page.locator(".note-list").inner_text()
    assert warned == (kind == "none")
    assert said(page).startswith("Kept" if kind == "small" else "Held until this page is closed")
    reloaded(page)
    assert kept(page) == (1 if kind == "small" else 0)
    context.close()


def test_a_note_that_cannot_be_stored_is_said_and_not_called_kept(browser_page, maps, product):
    page = opened(browser_page, maps / "index.html", product, (1280, 800))[0].page
    page.evaluate("reach.notes().base.close()")
    note(page, "edge")
    assert said(page) == "This note could not be kept: write it down on paper."
    assert kept(page) == 0


def test_a_copy_of_the_page_holds_no_note_once_the_list_is_shut(browser_page, maps, product):
    page = opened(browser_page, maps / "index.html", product, (1280, 800))[0].page
    note(page, "words", words="under the third alder")
    assert "third alder" in page.content()
    page.click(".card-head button")
    assert "third alder" not in page.content()


def test_what_is_written_into_the_file_is_guarded_as_the_log_guards_it(browser_page, maps):
    from reachmap.base.csv_cells import escaped_cell

    page = browser_page(maps / "index.html").page
    texts = ["=1", "  +a", "'-b", "\uff1dx", "\u200b@c", "plain", "'plain", "\tx", "a=b", ""]
    notes = (
        "texts.map((words, i) => ({id: 'page-' + i, made: '2031-01-05T08:30:00+00:00', words, "
        "photo: words, kind: 'words', accuracy: null, latitude: 46, longitude: -141, flow: null}))"
    )
    text = page.evaluate(f"texts => reach.notesCsv({notes})", texts)
    entries = from_csv(text)
    assert [entry.photo for entry in entries] == texts
    rows = text.split("\r\n")[1:-1]
    for words, row in zip(texts, rows, strict=True):
        assert f",{escaped_cell(words)}," in row
