"""`reachmap fit` and the list of `reachmap check`: what is said, what is kept, what is left."""

from __future__ import annotations

import pytest

from reachmap.base.words import UnitSystem
from reachmap.ground.fit import CoverFit, Fitted
from reachmap.pipeline.fitted import read_fitted
from reachmap.text.fit import fit_lines
from tests.cli.test_cli import run
from tests.markup.folders import make

pytestmark = pytest.mark.compiled


@pytest.fixture
def folder(tmp_path):
    return make(tmp_path / "reach")


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_a_look_says_what_it_would_find_and_writes_nothing(folder):
    before = contents(folder)
    done = run("fit", folder, "--look")
    assert done.returncode == 0, done.stderr
    assert "before and after" in done.stdout
    assert "->" in done.stdout
    assert contents(folder) == before


def test_a_fit_is_kept_in_a_file_of_its_own(folder):
    before = contents(folder)
    done = run("fit", folder)
    assert done.returncode == 0, done.stderr
    assert read_fitted(folder) is not None
    assert "Your drawing was not changed" in done.stdout
    after = contents(folder)
    assert after.pop("fitted.toml")
    after.pop(".written.lock", None)  # the lock's file stays and means nothing
    assert after == before
    first = (folder / "fitted.toml").read_bytes()
    assert run("fit", folder).returncode == 0
    assert (folder / "fitted.toml").read_bytes() == first  # an earlier fit is not fitted upon


def test_residuals_are_told_in_the_folders_units():
    covers = {"brush": CoverFit(0.7, 0.1), "unknown": CoverFit(1.0, 0.2)}
    found = Fitted(
        1.1, 1.0, {"speed": 0.3048}, {"speed": 0.1524}, {"speed": 4, "edge": 2}, 0.05, covers
    )
    lines = fit_lines(found, UnitSystem.US)
    assert "Roughness of the channel: 10 % more, known to about 5 %." in lines
    assert "Roughness of brush: 30 % less, known to about 11 %." in lines
    assert "Roughness of ground of unknown cover: as it was, known to about 22 %." in lines
    assert any("1.00 -> 0.50 ft/s" in line for line in lines)
    assert any("2 edges seen: no water came near them" in line for line in lines)
    assert any("as it was" in line for line in lines)


def test_a_folder_with_no_notes_says_what_to_note(tmp_path):
    folder = make(
        tmp_path / "reach", made={"edges": [], "soundings": [], "speeds": [], "levels": []}
    )
    done = run("fit", folder)
    assert done.returncode == 2
    assert "nothing to fit to" in done.stderr
    assert not (folder / "fitted.toml").exists()


def test_check_lists_where_a_note_helps_most_when_asked(folder):
    done = run("check", folder, "--suggest")
    assert done.returncode == 0, done.stderr
    assert "would sharpen the map most" in done.stdout
    assert "A1" in done.stdout
    plain = run("check", folder).stdout
    assert "A1" not in plain
    assert plain.splitlines()[-1].endswith(f"reachmap check {folder} --suggest")
    assert "Evidence used" in plain
