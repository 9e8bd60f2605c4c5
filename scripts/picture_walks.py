"""Take the pictures of docs/first-river.md: python -m scripts.picture_walks [WALK ...].

They are of the walks that tests/walks/ goes, taken on the way: drawn, terrain, brought.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page

from tests.browser import running_browser
from tests.walks import brought, drawn, terrain
from tests.walks.person import Person

PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
WALKS: dict[str, Callable[[Person], str]] = {
    "drawn": drawn.walk,
    "terrain": terrain.walk,
    "brought": brought.walk,
}
SHOWN = {
    ("drawn", "begin"): "first-begin",
    ("drawn", "bank"): "first-bank",
    ("drawn", "preview"): "first-asked",
    ("drawn", "preview-changed"): "first-answered",
    ("drawn", "check"): "first-check",
    ("drawn", "built"): "first-map",
    ("terrain", "draft"): "first-draft",
    ("brought", "brought-kml"): "first-brought",
    ("brought", "put-right"): "first-put-right",
}
"""Pictures by walk and by the name that the walk gives them."""


def main() -> int:
    """Go the walks named, all where none is, and keep the pictures on the way."""
    with running_browser() as browser, tempfile.TemporaryDirectory() as home:
        for name in sys.argv[1:] or list(WALKS):
            folder = Path(home) / name
            folder.mkdir()

            def shot(what: str, page: Page, walk: str = name) -> None:
                if picture := SHOWN.get((walk, what)):
                    page.wait_for_timeout(500)
                    page.screenshot(path=PICTURES / f"{picture}.png")

            WALKS[name](Person(folder, browser, shot))
    return 0


if __name__ == "__main__":
    sys.exit(main())
