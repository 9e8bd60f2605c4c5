"""A folder that changes as a whole: killed at any step, it is one generation, nothing lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reachmap.base import generation
from reachmap.base.generation import InUseError, begin, change_over, drop, listed_files, settle
from tests.base.killing import FOREIGN, NEW, OLD, build, content, scene, write

ROOT = Path(__file__).resolve().parents[2]


def beside(folder):
    return sorted(path.name for path in folder.parent.iterdir())


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are killed the POSIX way")
def test_killed_at_any_step_one_generation_is_there_whole_and_nothing_is_lost(tmp_path):
    home = tmp_path / "home"
    done = subprocess.run(
        [sys.executable, "-m", "tests.base.killing", str(home)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(lines) > 40
    assert [killed for _, killed, *_ in lines] == [True] * (len(lines) - 1) + [False]
    ends = set()
    for step, _, at_once, after, left in lines:
        pages = {name: text for name, text in after.items() if name not in FOREIGN}
        assert pages in (OLD, NEW), step
        assert {name: after.get(name) for name in FOREIGN} == FOREIGN, step
        assert left == [".written.lock", "written"], step
        if at_once is not None:  # nor is there ever a mixture before the next start
            assert {name: at_once[name] for name in at_once if name not in FOREIGN} in (OLD, NEW)
        ends.add(pages == NEW)
    assert ends == {True, False}


def test_what_is_not_ours_stays_and_what_is_goes(tmp_path):
    folder = scene(tmp_path / "home")
    build(folder)
    assert content(folder) == NEW | FOREIGN
    assert beside(folder) == [".written.lock", "written"]


def test_the_cache_is_moved_not_copied(tmp_path):
    folder = scene(tmp_path / "home")
    stored = (folder / "cache" / "ground-1.nc").stat()
    build(folder)
    assert os.path.samestat((folder / "cache" / "ground-1.nc").stat(), stored)


@pytest.mark.parametrize("hidden", ["absolute", "dots", "backslash", "link"])
def test_a_report_that_names_files_outside_removes_nothing(tmp_path, hidden):
    folder = scene(tmp_path / "home")
    mine = tmp_path / "mine.txt"
    mine.write_text("mine")
    digest = generation.digest_file(mine)
    if hidden == "link":
        (folder / "kml").symlink_to(tmp_path)
    names = {"absolute": str(mine), "dots": "../../mine.txt", "link": "kml/mine.txt"}
    name = names.get(hidden, "..\\..\\mine.txt")
    (folder / "report.json").write_text(json.dumps({"files": {name: digest}}))
    assert listed_files(folder) == {}
    build(folder)
    assert mine.read_text() == "mine"
    assert (folder / "maps" / "index.html").read_text() == "new"


@pytest.mark.parametrize(
    "report",
    [
        "",
        "{",
        "[" * 100_000,
        "[]",
        "7",
        '{"files": 7}',
        '{"files": ["maps/index.html"]}',
        '{"files": {"": "x", "maps": 7, "maps/index.html": null, "a\\u0000b": "x"}}',
        b"\xff\xfe",
        None,
    ],
)
def test_a_broken_report_is_survived_and_what_it_cannot_vouch_for_is_kept(tmp_path, report):
    folder = scene(tmp_path / "home")
    (folder / "report.json").unlink()
    if report is not None:
        text = report if isinstance(report, bytes) else report.encode()
        (folder / "report.json").write_bytes(text)
    build(folder)
    after = content(folder)
    assert {name: after[name] for name in NEW} == NEW
    assert {name: after[name] for name in FOREIGN} == FOREIGN
    assert after["kept/maps/index.html"] == "old"
    assert sorted(path.name for path in folder.parent.iterdir()) == [".written.lock", "written"]
    build(folder)
    assert content(folder) == after


def test_a_file_of_ours_that_was_changed_is_kept_aside(tmp_path):
    folder = scene(tmp_path / "home")
    (folder / "maps" / "600cfs.html").write_text("old, and a note by hand")
    (folder / "maps" / "index.html").write_text("changed too")
    build(folder)
    after = content(folder)
    assert after.pop("kept/maps/600cfs.html") == "old, and a note by hand"
    assert after.pop("kept/maps/index.html") == "changed too"
    assert after == NEW | FOREIGN


def test_a_file_in_the_way_of_a_page_is_kept_each_time(tmp_path):
    folder = scene(tmp_path / "home")
    write(folder, {"maps/900cfs.html": "mine", "kept/maps/900cfs.html": "mine before"})
    build(folder)
    assert content(folder)["maps/900cfs.html"] == "new"
    assert content(folder)["kept/maps/900cfs.html"] == "mine before"
    assert content(folder)["kept/2/maps/900cfs.html"] == "mine"


@pytest.mark.parametrize("name", ["maps", "gpx", "cache", "kept"])
def test_a_link_that_leads_out_is_neither_written_through_nor_emptied(tmp_path, name):
    home = tmp_path / "home"
    outside = tmp_path / "outside"
    write(outside, {"index.html": "theirs", "900cfs.html": "theirs", "ground-1.nc": "theirs"})
    folder = scene(home)
    generation.shutil.rmtree(folder / name, ignore_errors=True)
    (folder / name).symlink_to(outside)
    write(folder, {"maps/900cfs.html": "mine"} if name == "kept" else {})
    before = content(outside)
    build(folder)
    assert content(outside) == before
    assert {page: content(folder)[page] for page in NEW} == NEW
    links = [path for path in folder.rglob("*") if path.is_symlink()]
    assert [path.readlink() for path in links] == [outside]
    assert not (folder / "cache").is_symlink()


def test_a_folder_that_is_a_link_changes_where_it_lies(tmp_path):
    real = scene(tmp_path / "disk")
    link = tmp_path / "home" / "written"
    link.parent.mkdir()
    link.symlink_to(real)
    build(link)
    assert link.is_symlink()
    assert content(real) == NEW | FOREIGN
    assert beside(link) == ["written"]


def test_a_folder_held_open_stays_as_it_was(tmp_path, monkeypatch):
    folder = scene(tmp_path / "home")
    before = content(folder)
    rename = Path.rename

    def held(path, target):
        if path.name == ".written-new":
            raise PermissionError(13, "held open")
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", held)
    with pytest.raises(InUseError, match="Close every program"):
        build(folder)
    assert content(folder) == before
    assert beside(folder) == [".written.lock", "written"]


def test_on_windows_a_rename_is_tried_again(tmp_path, monkeypatch):
    folder = scene(tmp_path / "home")
    rename, refused = Path.rename, []

    def held(path, target):
        if path.name == ".written-new" and len(refused) < 3:
            refused.append(path)
            raise PermissionError(13, "held open")
        return rename(path, target)

    monkeypatch.setattr(generation, "PAUSE_S", 0.0)
    monkeypatch.setattr(generation, "_waits", lambda: True)
    monkeypatch.setattr(Path, "rename", held)
    build(folder)
    assert content(folder) == NEW | FOREIGN


def test_what_another_program_made_between_the_renames_is_kept(tmp_path):
    folder = scene(tmp_path / "home")
    new = begin(folder)
    generation_files = {"maps/index.html": "new"}
    write(new, generation_files)
    (new / "report.json").write_text("{}")
    folder.rename(folder.with_name(".written-old"))
    write(folder, {"days.html": "newer days", "cache/record-1.npz": "x"})
    settle(folder)
    after = content(folder)
    assert after["maps/index.html"] == "new"
    assert after["cache/record-1.npz"] == "x"
    assert {after["days.html"], after["kept/days.html"]} == {"newer days", FOREIGN["days.html"]}


def test_a_file_whose_folder_became_a_page_is_kept(tmp_path):
    folder = scene(tmp_path / "home")
    write(folder, {"gpx/mine.txt": "mine"})
    new = begin(folder)
    write(new, {"gpx": "a file now"})
    change_over(folder)
    assert (folder / "gpx").read_text() == "a file now"
    assert (folder / "kept" / "gpx" / "mine.txt").read_text() == "mine"
    assert beside(folder) == ["written"]


def test_a_folder_that_vanished_is_put_back(tmp_path):
    folder = scene(tmp_path / "home")
    folder.rename(folder.with_name(".written-old"))
    settle(folder)
    assert content(folder) == OLD | FOREIGN


def test_a_half_made_generation_is_taken_away(tmp_path):
    folder = scene(tmp_path / "home")
    write(begin(folder), {"maps/index.html": "half"})
    settle(folder)
    assert content(folder) == OLD | FOREIGN
    assert beside(folder) == ["written"]


def test_a_change_that_was_given_up_leaves_the_folder_alone(tmp_path):
    folder = scene(tmp_path / "home")
    before = content(folder)
    write(begin(folder), {"maps/index.html": "half"})
    drop(folder)
    assert content(folder) == before
    assert not folder.with_name(".written-new").exists()


def test_a_first_build_needs_no_folder(tmp_path):
    folder = tmp_path / "far" / "written"
    build(folder)
    assert content(folder) == NEW


def test_the_new_generation_is_on_the_disk_before_it_takes_the_place(tmp_path, monkeypatch):
    done = []
    rename = Path.rename
    monkeypatch.setattr(generation, "sync_tree", lambda path: done.append(("sync", path.name)))

    def noted(path, target):
        done.append(("rename", path.name))
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", noted)
    folder = tmp_path / "written"
    write(begin(folder), NEW)
    change_over(folder)
    assert done[:2] == [("sync", ".written-new"), ("rename", ".written-new")]
