"""How large, how quick and how hungry the map is at its largest: 10 km, ten flows, 1 m cells.

Run by asv, or alone: ``python -m benchmarks.bench_webmap`` prints each figure beside its budget.
"""

from __future__ import annotations

import statistics
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from benchmarks.long_reach import long_product
from reachmap.outputs.webmap import MapSettings, plan_maps, write_maps
from tests.browser import running_browser, watched_page

BUDGETS = {
    "file_mb": 10.0,
    "load_s": 2.0,
    "switch_ms": 50.0,
    "first_switch_ms": 50.0,
    "slow_switch_ms": 50.0,
    "drag_ms": 50.0,
    "heap_mb": 150.0,
}

SWITCHES = """
async (order) => {
  const times = [];
  for (const flow of order) {
    const began = performance.now();
    await reach.setFlow(flow);
    await new Promise((done) => requestAnimationFrame(() => {
      const channel = new MessageChannel();
      channel.port1.onmessage = done;
      channel.port2.postMessage(0);
    }));
    times.push(performance.now() - began);
    await new Promise((done) => setTimeout(done, 700));
  }
  return times;
}
"""

DRAG = """
async () => {
  const staff = document.getElementById("flow-range");
  const times = [];
  for (let at = 4; at < 7; at += 0.1) {
    const began = performance.now();
    staff.value = at;
    staff.dispatchEvent(new Event("input"));
    for (let frame = 0; frame < 2; frame++)
      await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
    times.push((performance.now() - began) / 2);
  }
  return times;
}
"""

SLOWED = 4
"""How many times slower than this machine a phone is taken to be, for the slowed figures."""


@cache
def measured(folder: str) -> dict[str, float]:
    """Return every figure of the largest page, in headless Chromium."""
    product = long_product()
    path = write_maps(product, Path(folder))[0]
    with running_browser() as browser, watched_page(browser) as watched:
        page = watched.page
        page.goto(path.as_uri())
        page.wait_for_selector("html[data-reach=ready]", state="attached", timeout=60_000)
        load = page.evaluate("performance.getEntriesByName('reach-ready')[0].startTime") / 1000
        page.wait_for_timeout(1500)
        first = page.evaluate(SWITCHES, [4, 5, 6, 7, 8, 9])
        again = page.evaluate(SWITCHES, [8, 7, 8, 7, 8, 7])
        drag = page.evaluate(DRAG)
        heap = page.evaluate("performance.memory.usedJSHeapSize") / 1e6
        slow = page.context.new_cdp_session(page)
        slow.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        slowly = page.evaluate(SWITCHES, [8, 7, 8, 7, 8, 7])
        assert watched.messages == []
    return {
        "file_mb": path.stat().st_size / 1e6,
        "load_s": load,
        "switch_ms": statistics.median(again),
        "first_switch_ms": statistics.median(first),
        "slow_switch_ms": statistics.median(slowly),
        "drag_ms": statistics.median(drag),
        "heap_mb": heap,
        "estimate_mb": plan_maps(product, MapSettings()).estimate / 1e6,
    }


class LargestMap:
    """The page that the budgets are set for."""

    timeout = 600

    def setup_cache(self) -> dict[str, float]:
        with tempfile.TemporaryDirectory() as folder:
            return measured(folder)

    def track_file_mb(self, figures: dict[str, float]) -> float:
        return figures["file_mb"]

    def track_load_s(self, figures: dict[str, float]) -> float:
        return figures["load_s"]

    def track_switch_ms(self, figures: dict[str, float]) -> float:
        return figures["switch_ms"]

    def track_first_switch_ms(self, figures: dict[str, float]) -> float:
        return figures["first_switch_ms"]

    def track_slow_switch_ms(self, figures: dict[str, float]) -> float:
        return figures["slow_switch_ms"]

    def track_drag_ms(self, figures: dict[str, float]) -> float:
        return figures["drag_ms"]

    def track_heap_mb(self, figures: dict[str, float]) -> float:
        return figures["heap_mb"]


class WriteMaps:
    """How long it takes to write the pages of 2 km at four flows."""

    timeout = 300

    def setup(self) -> None:
        self.product: Any = long_product(length=2000.0, flows=4)
        self.folder = tempfile.TemporaryDirectory()

    def time_write_maps(self) -> None:
        write_maps(self.product, Path(self.folder.name))

    def teardown(self) -> None:
        self.folder.cleanup()


def main() -> None:
    """Print every figure beside its budget."""
    with tempfile.TemporaryDirectory() as folder:
        for name, value in measured(folder).items():
            budget = BUDGETS.get(name)
            told = (
                ""
                if budget is None
                else f"budget {budget:g}, {'kept' if value <= budget else 'OVER'}"
            )
            print(f"{name:16s} {value:8.2f}  {told}")  # noqa: T201


if __name__ == "__main__":
    main()
