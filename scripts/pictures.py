"""Take the README's pictures of a built sample: python scripts/pictures.py WRITTEN_FOLDER."""

from __future__ import annotations

import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync")


@dataclass(frozen=True)
class Shot:
    """One picture: its name, the page, the window, and what is tapped first."""

    name: str
    page: str
    size: tuple[int, int]
    taps: tuple[str, ...] = ()


SHOTS = (
    Shot("page-index", "maps/index.html#flow=2400cfs", (1280, 800)),
    Shot("page-bend", "maps/index.html#flow=2400cfs", (1280, 800), (".run-rows button",)),
    Shot("page-phone", "maps/index.html#flow=2400cfs", (390, 844)),
    Shot("page-sheet", "sheets/2400cfs.html", (860, 1300)),
)


def take(browser: Browser, written: Path, shot: Shot) -> None:
    """Take one picture."""
    page = browser.new_page(viewport={"width": shot.size[0], "height": shot.size[1]})
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


def main() -> int:
    """Take every picture."""
    written = Path(sys.argv[1])
    PICTURES.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as play:
        path = shutil.which("chromium") or play.chromium.executable_path
        browser = play.chromium.launch(executable_path=path, args=list(FLAGS))
        for shot in SHOTS:
            take(browser, written, shot)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
