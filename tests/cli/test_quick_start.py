"""What a check of a drawing loads: nothing that only a build needs."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from reachmap.base.errors import MarkupError
from reachmap.markup.read import read_markup
from reachmap.web.editor.check import check_report
from tests.markup.folders import make

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "data_samples" / "madeup_river"

BUILD_ONLY = (
    "numba", "llvmlite", "networkx", "matplotlib", "folium", "branca", "jinja2", "contourpy",
    "scipy.stats", "scipy.signal", "fastkml", "pygeoif", "starlette", "uvicorn", "tomlkit",
    "icalendar", "segno", "reachmap.flow", "reachmap.water", "reachmap.angler", "reachmap.outputs",
    "reachmap.uncertainty",
)  # fmt: skip
"""Packages and rooms that no check without `--suggest` may load."""


def loaded_by(words):
    """Return which of `BUILD_ONLY` a command loads, its exit code, and what it printed."""
    code = (
        "import sys\n"
        "sys.modules['dask'] = None\n"  # an extra: xarray loads it, and what it loads, where it is
        "from reachmap.cli import main\n"
        f"sys.argv = ['reachmap', *{words!r}]\n"
        "code = 0\n"
        "try:\n    main()\nexcept SystemExit as end:\n    code = end.code or 0\n"
        f"found = sorted(set({BUILD_ONLY!r}) & set(sys.modules))\n"
        "print('LOADED', code, *found)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
    *said, last = done.stdout.splitlines()
    _, ended, *found = last.split()
    return found, int(ended), "\n".join(said)


def test_a_check_of_the_sample_loads_nothing_that_only_a_build_needs():
    found, code, said = loaded_by(["check", str(SAMPLE)])
    assert found == []
    assert code == 0
    assert "Evidence used: 25 soundings" in said
    assert "Not used: 6 noted speeds" in said


def test_faults_are_listed_without_the_ground_or_the_log(tmp_path):
    folder = make(tmp_path, toml='format = 1\nname = ""\nunits = "yards"\n')
    found, code, _ = loaded_by(["check", str(folder)])
    assert found == []
    assert code == 2


@pytest.mark.parametrize("units", ["furlongs", "us"])
def test_page_and_terminal_say_the_same_words(tmp_path, units):
    toml = f'format = 1\nname = "A"\nunits = "{units}"\n[river]\ntraced_flow = -1\n'
    folder = make(tmp_path, toml=toml)
    with pytest.raises(MarkupError) as caught:
        read_markup(folder)
    page = check_report(folder, [])["faults"]
    assert [(one["where"], one["found"], one["fix"]) for one in page] == [
        (one.where, one.found, one.fix) for one in caught.value.faults
    ]
    done = subprocess.run(
        [sys.executable, "-m", "reachmap", "check", str(folder)],
        capture_output=True, text=True, cwd=ROOT, check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "COLUMNS": "500", "HOME": "/tmp"},
    )  # fmt: skip
    assert done.returncode == 2
    assert page
    for one in page:
        assert one["found"] in done.stderr
        assert one["fix"] in done.stderr
