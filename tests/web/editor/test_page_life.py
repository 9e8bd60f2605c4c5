"""The page in trouble and in use: other tabs, a killed program, dropped files, pictures, tiles."""

import errno
import json
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pytest

from reachmap.markup.write import MARKUP_FILE, write_layers
from reachmap.web.editor import journal
from tests.browser import watched_page
from tests.web.editor.conftest import Sheet
from tests.web.editor.folders import HOME, bank, body, plain, river
from tests.web.editor.serving import Served
from tests.web.editor.test_imports import GPX, KML, geojson
from tests.web.editor.test_store import HOSTILE

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ROOT = Path(__file__).resolve().parents[3]


def rename(sheet, text):
    """Give the first mark a name by its card."""
    sheet.page.click("#tab-draw")
    if not sheet.page.locator("[data-keep=done]").count():
        sheet.page.locator("[data-mark]").first.click()
    sheet.page.fill("#page-draw input[name=name]", text)
    sheet.page.press("#page-draw input[name=name]", "Tab")


@pytest.fixture
def begun(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    sheet.served.told("drawing", json_body=body([river(), bank()]))
    sheet.load()
    return sheet


def test_a_stale_tab_is_refused_told_and_can_keep_a_copy(begun, open_sheet, tmp_path):
    second = open_sheet.tab(begun.served)
    rename(begun, "from the first tab")
    begun.settle()
    second.page.click("[data-mark]")
    second.page.fill("#page-draw input[name=name]", "from the second tab")
    second.page.press("#page-draw input[name=name]", "Tab")
    second.page.wait_for_selector("#load-again")
    assert "another tab" in second.page.inner_text("#notices")
    assert second.page.inner_text("#kept") == "Not kept"
    assert plain(tmp_path / "home")[0][3]["name"] == "from the first tab"
    with second.page.expect_download() as download:
        second.page.click("#save-copy")
    copy = json.loads(Path(download.value.path()).read_text())
    assert copy["features"][0]["properties"]["name"] == "from the second tab"
    assert gpd.GeoDataFrame.from_features(copy).geom_type.tolist() == ["LineString", "Polygon"]
    second.page.click("#load-again")
    second.settle()
    assert second.marks()[0]["values"]["name"] == "from the first tab"
    assert "drawing-set-aside-1.geojson" in second.page.inner_text("#notices")
    aside = json.loads((tmp_path / "home" / "drawing-set-aside-1.geojson").read_text())
    assert aside == copy
    second.page.keyboard.press("Control+z")
    second.settle()
    assert second.marks()[0]["values"]["name"] == "from the second tab"
    assert plain(tmp_path / "home")[0][3]["name"] == "from the second tab"
    second.page.keyboard.press("Control+y")
    second.settle()
    assert plain(tmp_path / "home")[0][3]["name"] == "from the first tab"
    rename(second, "now from the second")
    second.settle()
    assert plain(tmp_path / "home")[0][3]["name"] == "now from the second"
    assert [m for m in second.watched.messages if "409" not in m] == []
    begun.clean()


def test_a_tab_hears_of_changes_by_another_program_when_one_comes_back_to_it(begun, tmp_path):
    path = tmp_path / "home" / MARKUP_FILE
    frame = gpd.read_file(path, layer="river").assign(name="by another program")
    write_layers(path, {"river": frame})
    begun.page.evaluate("dispatchEvent(new Event('focus'))")
    begun.page.wait_for_selector("#load-again")
    assert "another program" in begun.page.inner_text("#notices")
    begun.page.click("#load-again")
    begun.settle()
    assert begun.marks()[0]["values"]["name"] == "by another program"


def test_a_file_open_in_another_program_is_told_and_written_when_it_is_closed(begun, tmp_path):
    other = sqlite3.connect(tmp_path / "home" / MARKUP_FILE)
    other.execute("PRAGMA journal_mode=WAL")
    other.execute("SELECT count(*) FROM sqlite_master").fetchone()
    begun.page.evaluate("import('./page/client.js').then(m => m.loadAgain())")
    begun.settle()
    rename(begun, "while it is open elsewhere")
    begun.page.wait_for_selector("text=another program has it open")
    assert begun.page.inner_text("#kept") == "Not kept"
    other.close()
    begun.page.wait_for_selector("#kept[data-now=kept]", timeout=8000)
    assert plain(tmp_path / "home")[0][3]["name"] == "while it is open elsewhere"


def test_a_full_disk_is_said_and_what_is_drawn_is_kept_when_there_is_room(
    begun, monkeypatch, tmp_path
):
    def full(*_given, **_more):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(journal.os, "fsync", full)
        rename(begun, "drawn on a full disk")
        begun.page.wait_for_selector("text=The disk is full")
        assert begun.page.inner_text("#kept") == "Not kept"
        assert begun.marks()[0]["values"]["name"] == "drawn on a full disk"
    begun.page.wait_for_selector("#kept[data-now=kept]", timeout=8000)
    assert plain(tmp_path / "home")[0][3]["name"] == "drawn on a full disk"


def start(folder):
    """Start the command; return the process and the page's address."""
    command = [sys.executable, "-m", "reachmap", "mark", str(folder), "--no-browser"]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    return running, running.stdout.readline().removeprefix("Draw here: ").strip()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
def test_the_command_killed_while_the_page_is_drawn_on_loses_nothing(browser, tmp_path):
    folder = tmp_path / "home"
    running, address = start(folder)
    with watched_page(browser, offline=False) as watched:
        sheet = Sheet(Served(address), watched)
        sheet.load()
        sheet.page.fill("#start-place", "46.2, -141.3")
        sheet.page.press("#start-place", "Enter")
        sheet.settle()
        sheet.begin("river")
        for x, y in ((500, 500), (700, 450), (900, 520)):
            sheet.click(x, y)
        sheet.settle()
        running.send_signal(signal.SIGKILL)
        running.wait(5)
        running.stdout.close()
        sheet.click(1000, 560)
        sheet.page.wait_for_selector("#save-copy", timeout=8000)
        assert sheet.page.inner_text("#kept") == "Not kept yet"
        assert "The program has stopped" in sheet.page.inner_text("#notices")
        assert sheet.state("state.draft.path.length") == 4
        running, address = start(folder)
        again = Sheet(Served(address), watched)
        sheet.page.on("dialog", lambda dialog: dialog.accept())
        again.load()
        assert again.state("state.draft.path.length") == 3
        sheet.page.click("[data-act=finish]")
        again.settle()
        running.send_signal(signal.SIGKILL)
        running.wait(5)
        running.stdout.close()
    assert [one[0] for one in plain(folder)] == ["river"]
    assert len(plain(folder)[0][2][0]) == 3


def drop(sheet, name, content, kind="application/octet-stream"):
    """Drop a file on the page as a hand would."""
    moved = sheet.page.evaluate_handle(
        """([name, bytes, type]) => { const t = new DataTransfer();
        t.items.add(new File([new Uint8Array(bytes)], name, {type})); return t; }""",
        [name, list(content), kind],
    )
    for event in ("dragenter", "dragover"):
        sheet.page.dispatch_event("#map", event, {"dataTransfer": moved})
    assert sheet.page.is_visible("#drop")
    sheet.page.dispatch_event("#map", "drop", {"dataTransfer": moved})
    assert not sheet.page.is_visible("#drop")


def test_a_gps_track_dropped_on_an_empty_page_becomes_the_river(open_sheet, tmp_path):
    sheet = open_sheet(tmp_path / "home")
    drop(sheet, "walk.gpx", GPX)
    sheet.page.wait_for_selector("#take-in")
    assert sheet.page.locator(".brought-row").count() == 3
    sheet.page.select_option("select[aria-label='1 lines become']", "river")
    sheet.page.click("#take-in")
    sheet.settle()
    found = plain(tmp_path / "home")
    assert [one[0] for one in found] == ["river", "soundings"]
    assert found[0][3]["name"] == "walked"
    assert found[1][3] == {
        "name": "bar head",
        "depth": "13.7795275591",
        "flow": "1200",
        "bed": "",
    } | {"depth": found[1][3]["depth"]}
    assert float(found[1][3]["depth"]) == pytest.approx(4.2)
    x, y = sheet.at(HOME)
    assert 408 < x < 1280  # the page went to where it is
    assert 0 < y < 800
    sheet.page.click("#undo")
    sheet.settle()
    assert plain(tmp_path / "home") == []
    sheet.clean()


def test_kml_and_geojson_are_taken_in_and_a_closed_line_becomes_an_outline(begun, tmp_path):
    drop(begun, "phone.kml", KML)
    begun.page.wait_for_selector("#take-in")
    begun.page.click("#take-in")
    begun.settle()
    ring = [[-141.3, 46.19], [-141.299, 46.19], [-141.299, 46.191], [-141.3, 46.19]]
    line = {
        "type": "Feature",
        "properties": {"name": "bar"},
        "geometry": {"type": "LineString", "coordinates": ring},
    }
    drop(begun, "bar.geojson", geojson(line))
    begun.page.wait_for_selector("#take-in")
    begun.page.select_option("select", "runs")
    begun.page.click("#take-in")
    begun.settle()
    found = plain(tmp_path / "home")
    assert [one[0] for one in found] == ["river", "banks", "banks", "runs"]
    assert found[2][3]["cover"] == "gravel"
    assert len(found[3][2][0]) == 3
    assert found[3][3]["name"] == "bar"


@pytest.mark.parametrize(
    ("name", "content"), [("bad.gpx", b"<gpx"), ("odd.exe", b"MZ"), ("fake.png", b"<svg/>")]
)
def test_a_file_that_cannot_be_taken_in_is_told_and_changes_nothing(begun, tmp_path, name, content):
    before = plain(tmp_path / "home")
    drop(begun, name, content)
    begun.page.wait_for_selector("#page-draw [role=alert]")
    assert name in begun.page.inner_text("#page-draw h2")
    begun.page.click("text=Very well")
    assert plain(tmp_path / "home") == before
    assert [m for m in begun.watched.messages if "422" not in m] == []


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)], ids=["desk", "phone"])
def test_hostile_text_stays_text_everywhere_on_the_page(open_sheet, tmp_path, size):
    sheet = open_sheet(tmp_path / "home", size)
    marks = [river(number, name=text) | {"id": f"r{number}"} for number, text in enumerate(HOSTILE)]
    marks += [bank(note=HOSTILE[0], name=HOSTILE[0])]
    sheet.served.told("drawing", json_body=body(marks))
    sheet.served.told("facts", json_body={"version": 2, "facts": {"name": HOSTILE[0] + "{{7*7}}"}})
    sheet.load()
    sheet.checked()
    page = sheet.page
    assert page.inner_text("h1") == HOSTILE[0] + "{{7*7}}"
    for tab in ("draw", "river", "basemap", "check"):
        page.click(f"#tab-{tab}")
        if tab == "check":
            assert "script" in page.inner_text("#page-check")
    page.click("#tab-draw")
    for details in page.locator("details.marks:not([open]) > summary").all():
        details.click()
    for mark in page.locator("[data-mark]").all()[: len(HOSTILE)]:
        assert mark.bounding_box()["width"] <= size[0]
    page.locator("[data-mark]").nth(3).click()
    sheet.settle()
    assert page.input_value("#page-draw input[name=name]") == HOSTILE[3]
    assert page.evaluate("document.scripts.length") == 2
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    sheet.clean()
