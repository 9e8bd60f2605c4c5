"""What is installed: declared imports, types for callers, a library that needs no server."""

from __future__ import annotations

import ast
import os
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
DEVELOPERS = ("test", "bench", "docs", "site")
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


def test_citation_and_package_name_one_version():
    cited = re.search(r"^version: (.+)$", (ROOT / "CITATION.cff").read_text("utf-8"), re.MULTILINE)
    assert cited is not None
    assert cited[1] == PROJECT["version"]


def test_no_address_that_is_not_ours_stands_in_the_package_s_metadata():
    assert all(url.startswith("https://reachmap.invalid/") for url in PROJECT["urls"].values())
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert not re.findall(r"\]\(https?://", readme)


def test_every_page_of_the_site_s_navigation_is_there_and_every_page_is_in_it():
    named = set(
        re.findall(r": ([\w-]+\.md)$", (ROOT / "mkdocs.yml").read_text("utf-8"), re.MULTILINE)
    )
    assert named == {path.name for path in (ROOT / "docs").glob("*.md")}


@pytest.mark.slow
@pytest.mark.compiled
def test_the_wheel_built_and_installed_alone_builds_the_sample(tmp_path):
    """In a fresh environment that sees only the wheel and its dependencies, outside this folder."""
    build = [sys.executable, "-m", "build", "--wheel", "--outdir", str(tmp_path), str(ROOT)]
    subprocess.run(build, check=True, capture_output=True, text=True)
    (wheel,) = tmp_path.glob("reachmap-*.whl")
    home = tmp_path / "fresh"
    subprocess.run([sys.executable, "-m", "venv", str(home)], check=True)
    python = home / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, str(wheel)], check=True, cwd=tmp_path)
    bare = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    code = (
        "import reachmap, shutil; from pathlib import Path\n"
        "assert Path(reachmap.__file__).is_relative_to(Path('fresh').resolve())\n"
        "shutil.copytree(reachmap.sample_folder(), 'river')\n"
    )
    subprocess.run([str(python), "-c", code], check=True, cwd=tmp_path, env=bare)
    words = ["build", "river", "--quick", "--cell", "4", "--no-ensemble"]
    done = subprocess.run(
        [str(python), "-m", "reachmap", *words],
        cwd=tmp_path,
        env=bare,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "river" / "written" / "gis" / "reach.qgz").exists()
    demo = subprocess.run(
        [str(python), "-m", "reachmap", "demo", "--help"],
        cwd=tmp_path,
        env=bare,
        capture_output=True,
        text=True,
        check=False,
    )
    assert demo.returncode == 0, demo.stderr
