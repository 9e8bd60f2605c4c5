"""A real Chromium for tests of pages: no network, and every request and message written down."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Playwright, sync_playwright

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
DESK, PHONE = (1280, 800), (390, 844)


def chromium_path(own: str) -> str:
    """Return a Chromium to run: named in REACHMAP_CHROMIUM, on PATH, or playwright's own."""
    named = os.environ.get("REACHMAP_CHROMIUM")
    found = named or shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None and Path(own).exists():
        found = own
    if found is None:
        pytest.fail("no Chromium found: install one, or leave these out with -m 'not browser'")
    return found


_DRIVERS: list[Playwright] = []
"""The driver that runs in this process, if any: it cannot be started twice."""


@contextmanager
def _driver() -> Iterator[Playwright]:
    """Give the driver of this process, started if none runs yet."""
    if _DRIVERS:
        yield _DRIVERS[0]
        return
    with sync_playwright() as play:
        _DRIVERS.append(play)
        try:
            yield play
        finally:
            _DRIVERS.clear()


@contextmanager
def running_browser() -> Iterator[Browser]:
    """Give a headless Chromium; fails where there is none."""
    with _driver() as play:
        path = chromium_path(play.chromium.executable_path)
        browser = play.chromium.launch(executable_path=path, headless=True, args=list(FLAGS))
        yield browser
        browser.close()


@dataclass
class Watched:
    """An open page with all it asked for and all it said."""

    page: Page
    requests: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)


@contextmanager
def watched_page(
    browser: Browser, size: tuple[int, int] = DESK, *, offline: bool = True, **options: Any
) -> Iterator[Watched]:
    """Give an empty page without network; a narrow one is a phone with a touch screen."""
    phone = size[0] < 500
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        offline=offline,
        has_touch=phone,
        is_mobile=phone,
        **options,
    )
    page = context.new_page()
    watched = Watched(page)
    page.on("console", lambda said: watched.messages.append(f"{said.type}: {said.text}"))
    page.on("pageerror", lambda error: watched.messages.append(f"error: {error}"))
    page.on(
        "request",
        lambda asked: (
            watched.requests.append(asked.url)
            if not asked.url.startswith(("data:", "blob:"))
            else None
        ),
    )
    yield watched
    context.close()
