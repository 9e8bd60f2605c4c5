"""Take the pictures of the docs: python scripts/pictures.py WRITTEN_FOLDER, or --mark.

WRITTEN_FOLDER is a built sample; --mark takes those of the drawing page alone.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
SAMPLE = ROOT / "data_samples" / "madeup_river"
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync")


DESK, PHONE, SHEET = (1280, 800), (390, 844), (860, 1300)
MAP = "maps/index.html#flow=2400cfs"
LOW = "maps/index.html#flow=600cfs"
PRESET = "#presets button:nth-child({})"
BEND = ("#tab-runs", ".run-rows button")


@dataclass(frozen=True)
class Shot:
    """One picture: its name, the page, the window, what is tapped first, and whether by night."""

    name: str
    page: str
    size: tuple[int, int]
    taps: tuple[str, ...] = ()
    night: bool = False


SHOTS = (
    Shot("page-index", MAP, DESK),
    Shot("page-bend", MAP, DESK, BEND),
    Shot("page-wade", MAP, DESK, (*BEND, "#tab-layers", PRESET.format(2))),
    Shot("page-cast", MAP, DESK, (*BEND, "#tab-layers", PRESET.format(3))),
    Shot("page-sure", LOW, DESK, (*BEND, "#tab-layers", PRESET.format(4))),
    Shot("page-asks", MAP, DESK, ("#tab-about", "[aria-controls=fold-asks]", "[data-ask]")),
    Shot("page-phone", MAP, PHONE),
    Shot("page-phone-card", MAP, PHONE, BEND[1:]),
    Shot("page-phone-night", MAP, PHONE, BEND[1:], night=True),
    Shot("page-sheet", "sheets/2400cfs.html", SHEET),
)


NEAR_THE_HEAD = """async zoom => {
  const {showPlace} = await import('./page/viewport.js'), {state} = await import('./page/state.js');
  showPlace(state.marks.find(mark => mark.layer === 'river').paths[0][9], zoom); }"""
"""Moves the drawing page's map to a spot of the sample's river line."""


def take(browser: Browser, written: Path, shot: Shot) -> None:
    """Take one picture."""
    page = browser.new_page(
        viewport={"width": shot.size[0], "height": shot.size[1]},
        offline=True,
        color_scheme="dark" if shot.night else "light",
    )
    address, _, mark = shot.page.partition("#")
    page.goto((written / address).resolve().as_uri() + (f"#{mark}" if mark else ""))
    page.wait_for_timeout(2500)
    for tap in shot.taps:
        found = page.locator(tap)
        if found.count():
            found.first.click()
            page.wait_for_timeout(1500)
    page.screenshot(path=PICTURES / f"{shot.name}.png")
    page.close()


def take_mark(browser: Browser) -> None:
    """Take the pictures of the drawing page: a bank's form on a desk, an edge begun on a phone."""
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "river"
        shutil.copytree(SAMPLE, folder)
        command = [sys.executable, "-m", "reachmap", "mark", str(folder), "--no-browser"]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as served:
            try:
                address = served.stdout.readline().split()[-1] if served.stdout else ""
                _mark_desk(browser, address)
                _mark_phone(browser, address)
            finally:
                served.terminate()


def _mark_desk(browser: Browser, address: str) -> None:
    """Choose a mark and show its form."""
    page = browser.new_page(viewport={"width": DESK[0], "height": DESK[1]})
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    page.locator("[data-mark]", has_text="Bank 1").first.dispatch_event("click")
    page.evaluate(NEAR_THE_HEAD, 17.5)
    page.evaluate("document.getElementById('panel').scrollTop = 0")
    page.wait_for_timeout(1500)
    page.screenshot(path=PICTURES / "mark-desk.png")
    page.close()


def _mark_phone(browser: Browser, address: str) -> None:
    """Begin an edge under the sight."""
    context = browser.new_context(
        viewport={"width": PHONE[0], "height": PHONE[1]}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    page.locator("[data-layer=edges]").first.click()
    page.evaluate(NEAR_THE_HEAD, 16.5)
    for x, y in ((70, 438), (130, 408), (200, 397), (265, 402)):
        page.touchscreen.tap(x, y)
        page.wait_for_timeout(300)
    page.screenshot(path=PICTURES / "mark-phone.png")
    context.close()


def main() -> int:
    """Take every picture."""
    mark_alone = sys.argv[1:] == ["--mark"]
    PICTURES.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as play:
        path = shutil.which("chromium") or play.chromium.executable_path
        browser = play.chromium.launch(executable_path=path, args=list(FLAGS))
        take_mark(browser)
        for shot in () if mark_alone else SHOTS:
            take(browser, Path(sys.argv[1]), shot)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
