"""How large, how quick and how hungry the map is at its largest: 10 km, ten flows, 1 m cells.

Run by asv, or alone: ``python -m benchmarks.bench_webmap [PAGE.html]`` prints each figure beside
its budget, of the page it is given or of the largest. Wall clocks mean something on a quiet machine
only; the figures in processor time (`_cpu`) are those of the page's own thread.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import CDPSession, Page

from benchmarks.long_reach import long_product
from reachmap.outputs.webmap import MapSettings, plan_maps, write_maps
from tests.browser import PHONE, running_browser, watched_page

BUDGETS = {
    "file_mb": 10.0,
    "load_s": 2.0,
    "switch_ms": 50.0,
    "first_switch_ms": 50.0,
    "slow_switch_ms": 50.0,
    "slow_switch_cpu_ms": 50.0,
    "drag_ms": 50.0,
    "drag_cpu_ms": 16.7,
    "slow_drag_cpu_ms": 50.0,
    "heap_mb": 200.0,
}
"""What each figure may be; 20 frames a second while dragging without a graphics processor."""

WATCH = """() => {
  const draw = reach.sheet.drawSeen;
  reach.sheet.drawSeen = function () {
    draw.call(this);
    if (!window.waiting) return;
    window.waiting = false;
    requestAnimationFrame(() => {
      const channel = new MessageChannel();
      channel.port1.onmessage = () => {
        performance.mark("water-shown");
        window.shownAt = performance.now();
      };
      channel.port2.postMessage(0);
    });
  };
}"""
"""Marks the moment at which the frame with the new water is done."""

SWITCH = """async (flow) => {
  window.waiting = true;
  performance.mark("switch-begun");
  const began = performance.now();
  await reach.setFlow(flow);
  return window.shownAt - began;
}"""

DRAG = """async ([from, to, frames]) => {
  const staff = document.getElementById("flow-range");
  const began = performance.now();
  for (let frame = 0; frame < frames; frame++) {
    staff.value = from + ((to - from) * frame) / frames;
    staff.dispatchEvent(new Event("input"));
    await new Promise((done) => requestAnimationFrame(done));
  }
  return (performance.now() - began) / frames;
}"""

SLOWED = 4
"""How many times slower than this machine a phone is taken to be, for the slowed figures."""

FRAMES = 30


@contextmanager
def traced(session: CDPSession) -> Iterator[list[dict[str, Any]]]:
    """Give a list that holds the browser's trace once the block is done."""
    events: list[dict[str, Any]] = []
    done: list[bool] = []
    session.on("Tracing.dataCollected", lambda found: events.extend(found["value"]))
    session.once("Tracing.tracingComplete", lambda _: done.append(True))
    categories = "toplevel,blink.user_timing,disabled-by-default-devtools.timeline"
    session.send("Tracing.start", {"categories": categories, "transferMode": "ReportEvents"})
    yield events
    session.send("Tracing.end")
    while not done:
        session.send("Runtime.evaluate", {"expression": "0"})


def thread_ms(events: Sequence[dict[str, Any]]) -> list[float]:
    """Return the processor time of the page's thread from each switch to its frame [ms]."""
    at = {
        name: sorted(one["ts"] for one in events if one["name"] == name)
        for name in ("switch-begun", "water-shown")
    }
    thread = next(one["tid"] for one in events if one["name"] == "switch-begun")
    tasks = [
        one
        for one in events
        if one["name"] == "RunTask" and one["tid"] == thread and one.get("dur", 0) > 0
    ]
    found = []
    for begun, shown in zip(at["switch-begun"], at["water-shown"], strict=True):
        inside = (
            one.get("tdur", 0)
            * max(0, min(one["ts"] + one["dur"], shown) - max(one["ts"], begun))
            / one["dur"]
            for one in tasks
        )
        found.append(sum(inside) / 1000)
    return found


def _busy_ms(session: CDPSession) -> float:
    """Return the processor time that the page's thread has taken so far [ms]."""
    metrics = session.send("Performance.getMetrics")["metrics"]
    return 1000 * next(one["value"] for one in metrics if one["name"] == "TaskDuration")


def _switched(page: Page, session: CDPSession, flows: Sequence[int]) -> tuple[float, float]:
    """Return the medians of wall clock and processor time of switches to some flows [ms]."""
    walls = []
    with traced(session) as events:
        for flow in flows:
            walls.append(page.evaluate(SWITCH, flow))
            page.wait_for_timeout(900)
    return statistics.median(walls), statistics.median(thread_ms(events))


def _dragged(page: Page, session: CDPSession, middle: int) -> tuple[float, float]:
    """Return wall clock and processor time of a frame while the staff is dragged [ms]."""
    page.wait_for_timeout(1000)
    before = _busy_ms(session)
    wall = page.evaluate(DRAG, [middle, middle + 2, FRAMES])
    return wall, (_busy_ms(session) - before) / FRAMES


def figures(path: Path) -> dict[str, float]:
    """Return the figures of a page of all flows on a phone's window, in headless Chromium."""
    with (
        running_browser() as browser,
        watched_page(browser, PHONE, device_scale_factor=2) as watched,
    ):
        page = watched.page
        session = page.context.new_cdp_session(page)
        session.send("Performance.enable", {"timeDomain": "threadTicks"})
        page.goto(path.as_uri())
        page.wait_for_selector("html[data-reach=ready]", state="attached", timeout=120_000)
        found = {
            "file_mb": path.stat().st_size / 1e6,
            "load_s": page.evaluate("performance.getEntriesByName('reach-ready')[0].startTime")
            / 1000,
            "load_cpu_s": _busy_ms(session) / 1000,
        }
        page.wait_for_timeout(2500)
        page.evaluate(WATCH)
        middle = page.evaluate("reach.data.flows.length >> 1")
        fresh = [middle + step for step in (1, 2, 3, 2)]
        again = [middle, middle + 1] * 4
        found["first_switch_ms"], _ = _switched(page, session, fresh)
        found["switch_ms"], found["switch_cpu_ms"] = _switched(page, session, again)
        found["drag_ms"], found["drag_cpu_ms"] = _dragged(page, session, middle)
        session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        found["slow_switch_ms"], found["slow_switch_cpu_ms"] = _switched(page, session, again)
        found["slow_drag_ms"], found["slow_drag_cpu_ms"] = _dragged(page, session, middle)
        session.send("Emulation.setCPUThrottlingRate", {"rate": 1})
        heap = session.send("Runtime.getHeapUsage")
        parts = ("usedSize", "embedderHeapUsedSize", "backingStorageSize")
        found["heap_mb"] = sum(heap.get(name, 0) for name in parts) / 1e6
        assert watched.messages == []
    return found


@cache
def measured(folder: str) -> dict[str, float]:
    """Return every figure of the largest page."""
    product = long_product()
    path = write_maps(product, Path(folder))[0]
    return figures(path) | {"estimate_mb": plan_maps(product, MapSettings()).estimate / 1e6}


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

    def track_slow_switch_cpu_ms(self, figures: dict[str, float]) -> float:
        return figures["slow_switch_cpu_ms"]

    def track_slow_drag_cpu_ms(self, figures: dict[str, float]) -> float:
        return figures["slow_drag_cpu_ms"]

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


def main(paths: Sequence[str]) -> None:
    """Print every figure beside its budget."""
    with tempfile.TemporaryDirectory() as folder:
        found = figures(Path(paths[0]).resolve()) if paths else measured(folder)
    for name, value in found.items():
        budget = BUDGETS.get(name)
        kept = (
            "" if budget is None else f"budget {budget:g}, {'kept' if value <= budget else 'OVER'}"
        )
        print(f"{name:20s} {value:8.2f}  {kept}")  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:])
