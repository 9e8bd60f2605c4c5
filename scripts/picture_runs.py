"""Draw three runs at three flows from a built map: python -m scripts.picture_runs INDEX.HTML."""

from __future__ import annotations

import io
import sys
from pathlib import Path

from PIL import Image, ImageDraw
from playwright.sync_api import Page

from tests.browser import running_browser

TARGET = Path(__file__).resolve().parent.parent / "docs" / "pictures" / "three-runs.png"
RUNS = ("Teakettle", "The Elbow", "Sandpiper")
FLOWS = (900, 1800, 4200)
SHOWN = ("covered", "lane", "band", "station", "even_run", "inside_bend", "soft_edge")
CLIP = {"x": 412, "y": 84, "width": 800, "height": 640}
SIZE, GAP, HEAD = (430, 344), 2, 16

OPEN = """([name, kinds]) => {
  kinds.forEach((kind) => reach.state.on.add(kind));
  reach.openRun(reach.runs().findIndex((run) => run.name === name), false);
  reach.sheet.draw();
}"""


def panel(page: Page, run: str) -> Image.Image:
    """Return the map of a run at the flow of the page."""
    page.evaluate(OPEN, [run, list(SHOWN)])
    page.wait_for_timeout(500)
    shot = page.screenshot(clip=CLIP)  # type: ignore[arg-type]
    return Image.open(io.BytesIO(shot)).convert("RGB").resize(SIZE)


def draw(path: Path) -> Image.Image:
    """Return all panels: a row a flow, a column a run."""
    wide, high = SIZE[0] + GAP, SIZE[1] + HEAD + GAP
    sheet = Image.new("RGB", (wide * len(RUNS), high * len(FLOWS)), "white")
    pen = ImageDraw.Draw(sheet)
    with running_browser() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        for row, flow in enumerate(FLOWS):
            page.goto(f"{path.resolve().as_uri()}?flow={flow}")
            page.wait_for_selector("html[data-reach=ready]", state="attached")
            for column, run in enumerate(RUNS):
                at = column * wide, row * high
                sheet.paste(panel(page, run), (at[0], at[1] + HEAD))
                pen.text((at[0] + 4, at[1] + 2), f"{run}, {flow:,} cfs", fill="black")
    return sheet


if __name__ == "__main__":
    draw(Path(sys.argv[1])).quantize(160).save(TARGET, optimize=True)
    sys.stdout.write(f"Wrote {TARGET}\n")
