"""The house rules that a tool can check."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted((ROOT / "reachmap").rglob("*.py"))
LONGEST = 350


def _code_files():
    folders = ("reachmap", "tests", "scripts", "benchmarks")
    return [path for name in folders for path in sorted((ROOT / name).rglob("*.py"))]


def test_no_file_is_longer_than_350_lines():
    long = {
        path.relative_to(ROOT).as_posix(): count
        for path in _code_files()
        if (count := len(path.read_text(encoding="utf-8").splitlines())) > LONGEST
    }
    assert not long


def test_no_file_is_a_drawer_for_odds_and_ends():
    assert not [path for path in SOURCES if path.stem in {"utils", "helpers", "misc", "common"}]


def test_only_the_edges_know_feet():
    inner = ("ground", "flow", "water")
    feet = re.compile(r"0\.3048|28\.31|\b35\.3\d*|\b3\.28\d*")
    found = [
        path.relative_to(ROOT).as_posix()
        for path in SOURCES
        if path.relative_to(ROOT / "reachmap").parts[0] in inner
        and feet.search(path.read_text(encoding="utf-8"))
    ]
    assert not found


def test_no_page_of_ours_says_safe():
    # a word that must never stand on anything an angler reads; code comments are held to it too
    # (a template's filter of that name is let through)
    word = re.compile(r"(?<!\|)\bsafe(ly)?\b(?!-area)", re.IGNORECASE)
    rooms = [ROOT / "reachmap" / name for name in ("outputs", "text")]
    for path in sorted(path for room in rooms for path in room.rglob("*")):
        if path.suffix in {".py", ".js", ".css", ".html"} and "vendor" not in path.parts:
            for line in path.read_text(encoding="utf-8").splitlines():
                if word.search(line) and "never" not in line.lower():
                    pytest.fail(f"{path.relative_to(ROOT)}: {line.strip()}")


@pytest.mark.parametrize("words", [["--help"], ["build", "--help"], ["check", "--help"]])
def test_help_answers_without_the_heavy_libraries(words):
    code = (
        "import sys\nfrom reachmap.cli.app import app\n"
        f"try:\n    app({words!r})\nexcept SystemExit as end:\n    assert end.code in (0, None)\n"
        "heavy = {'numpy', 'pandas', 'geopandas', 'xarray', 'rasterio', 'numba', 'folium', 'scipy',"
        " 'shapely', 'pyproj', 'jinja2', 'starlette', 'PIL'}\n"
        "found = heavy & set(sys.modules)\nassert not found, found\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "Usage" in done.stdout


@pytest.mark.parametrize("name", ["words", "layers", "commands"])
def test_a_page_made_from_the_program_is_current(name):
    spec = importlib.util.spec_from_file_location(f"make_{name}", ROOT / "scripts" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.TARGET.read_text(encoding="utf-8") == module.page()


SI_ONLY = ("flow", "uncertainty", "water", "angler", "planner", "logbook")
"""Rooms that know no system of units: a change from feet to metres works nothing out anew."""


@pytest.mark.parametrize("room", SI_ONLY)
def test_a_stage_knows_no_system_of_units(room):
    for path in sorted((ROOT / "reachmap" / room).glob("**/*.py")):
        text = path.read_text(encoding="utf-8")
        assert "UnitSystem" not in text, path
        assert not re.search(r"\bunits\b\s*[:=,)]", text), path
        assert not re.search(r"\b(flow_words|flow_label|from_si)\(", text), path
