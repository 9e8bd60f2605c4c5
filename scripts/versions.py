"""Run the quick tests on the oldest and the newest dependencies: python -m scripts.versions.

--only lowest|newest takes one of them, --import-only stops after every module has been imported,
--python 3.12 another Python, found on PATH. Wants uv, which is in the extra `test`. Environments
are made in build/versions and kept for the next time.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / "build" / "versions"
RESOLUTIONS = {"lowest": "lowest-direct", "newest": "highest"}
TOOLS = ("ruff", "mypy", "stubs", "import-linter", "cosmic-ray", "ipykernel", "uv")
"""Of the extra `test`, what the quick tests do without."""

QUICK = (
    *("tests/base", "tests/markup", "tests/gauge", "tests/planner", "tests/logbook", "tests/text"),
    *("tests/cli", "tests/outputs/gis", "tests/outputs/test_handheld.py", "tests/water"),
)
"""Folders whose tests touch every dependency and end within minutes."""

IMPORT_ALL = """
import importlib, pkgutil, reachmap
for one in pkgutil.walk_packages(reachmap.__path__, "reachmap."):
    if not one.name.endswith("__main__"):
        importlib.import_module(one.name)
from reachmap.cli.app import app
try:
    app(["build", "--help"])
except SystemExit as end:
    raise SystemExit(end.code or 0)
"""


def uv(*words: str | Path) -> None:
    """Run uv and stop where it fails."""
    command = [sys.executable, "-m", "uv", *map(str, words)]
    subprocess.run(command, cwd=ROOT, check=True)


def prepare(name: str, python: str) -> Path:
    """Resolve one set of versions, make its environment, and return its Python."""
    HOME.mkdir(parents=True, exist_ok=True)
    pins, home = HOME / f"{name}-{python}.txt", HOME / f"{name}-{python}"
    # what this Python has wheels for: an older source would be built with newer tools, and fail
    resolved = ("--resolution", RESOLUTIONS[name], "--python-version", python)
    resolved += ("--only-binary", ":all:")
    uv("pip", "compile", "--quiet", *resolved, "pyproject.toml", "--output-file", pins)
    if not home.exists():
        uv("venv", "--quiet", "--python", python, home)
    own = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    # named, or uv would install into the environment that it runs from itself
    uv("pip", "install", "--quiet", "--python", own, "-r", pins, *test_libraries())
    return own


def test_libraries() -> list[str]:
    """Return the names of what the quick tests import besides, in whatever version fits."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = [re.split(r"[<>=\[]", one)[0] for one in project["optional-dependencies"]["test"]]
    return [name for name in names if not any(tool in name for tool in TOOLS)]


def run(python: Path, *, import_only: bool) -> int:
    """Import every module, then run the quick tests; return 0 only if all passed."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [python, "-c", IMPORT_ALL], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL
    )
    if done.returncode or import_only:
        return done.returncode
    # warnings of old libraries about newer ones are no faults of ours
    marks = "not slow and not browser and not compiled"
    words = ["-q", "-p", "no:cacheprovider", "-W", "default", "-m", marks]
    return subprocess.run(
        [python, "-m", "pytest", *words, *QUICK], cwd=ROOT, env=environment
    ).returncode


def main() -> int:
    """Run what was asked for and return 0 only if all passed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", choices=list(RESOLUTIONS))
    parser.add_argument("--python", default=f"{sys.version_info.major}.{sys.version_info.minor}")
    parser.add_argument("--import-only", action="store_true")
    asked = parser.parse_args()
    failed = []
    for name in [asked.only] if asked.only else list(RESOLUTIONS):
        print(f"== {name} versions, Python {asked.python}", flush=True)
        if run(prepare(name, asked.python), import_only=asked.import_only):
            failed.append(name)
    print(f"Failed: {', '.join(failed)}" if failed else "Both passed." if not asked.only else "Ok.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
