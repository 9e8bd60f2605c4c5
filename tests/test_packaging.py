"""What is installed: declared imports, types for callers, a library that needs no server."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

import reachmap
from tests.markup.folders import make

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
DEVELOPERS = ("test", "bench", "docs")
"""Extras for those who work on the program: nothing that is installed may import from them."""


def plain(name):
    """A package's name as packaging tools compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def names_of(requirements):
    return {plain(re.split(r"[<>=\[ ]", one)[0]) for one in requirements}


def imported():
    """Each top-level module imported anywhere in the package, with one file that does."""
    found = {}
    for path in sorted((ROOT / "reachmap").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module]
            else:
                continue
            found |= {name.split(".")[0]: path for name in names}
    return {
        name: path
        for name, path in found.items()
        if name != "reachmap" and name not in sys.stdlib_module_names
    }


def test_every_library_that_is_imported_is_declared():
    extras = {
        name: packages
        for name, packages in PROJECT["optional-dependencies"].items()
        if name not in DEVELOPERS
    }
    declared = names_of(PROJECT["dependencies"]).union(*map(names_of, extras.values()))
    homes = packages_distributions()
    modules = imported()
    assert {"numpy", "affine", "pygeoif", "matplotlib"} <= set(modules)
    missing = {
        name: str(path)
        for name, path in modules.items()
        if not {plain(home) for home in homes.get(name, [name])} & declared
    }
    assert not missing


def test_what_the_pages_and_the_terminal_need_comes_with_a_plain_install():
    extras = PROJECT["optional-dependencies"]
    assert set(extras["app"]) <= set(PROJECT["dependencies"])


@pytest.mark.compiled
def test_the_library_maps_without_server_and_terminal(tmp_path):
    folder = make(tmp_path)
    packages = sorted(names_of(PROJECT["optional-dependencies"]["app"]))
    code = (
        "import sys\n"
        f"sys.modules |= dict.fromkeys({packages!r})\n"  # importing one of them fails
        "import reachmap\n"
        f"maps = reachmap.open_reach({str(folder)!r}).map([30.0], quick=True, cell=4.0)\n"
        "maps.write(); maps.explore(); maps._repr_html_()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr


def test_kml_is_written_without_a_word_where_lxml_is_missing():
    code = "import sys; sys.modules['lxml'] = None; import reachmap.outputs.handheld.kml"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-W", "ignore::PendingDeprecationWarning", "-c", code],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_types_are_shipped_and_the_version_is_one():
    assert (Path(reachmap.__file__).parent / "py.typed").is_file()
    wheel = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert wheel["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"] == ["reachmap"]
    ignored = subprocess.run(
        ["git", "check-ignore", "-q", "reachmap/py.typed"], cwd=ROOT, check=False
    )
    assert ignored.returncode != 0  # hatch leaves out what git ignores
    assert PROJECT["version"] == reachmap.__version__
