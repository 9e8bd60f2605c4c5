"""One writer at a time: which waits, which is named, and what is swept up first."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from reachmap.base import writer
from reachmap.base.errors import MarkupError
from reachmap.base.lock import HeldError
from reachmap.base.writer import lock_path, one_writer, settle_if_free
from tests.base.killing import scene, write

ROOT = Path(__file__).resolve().parents[2]

HOLD = """
import sys, time
from pathlib import Path
from reachmap.base.writer import one_writer
with one_writer(Path(sys.argv[1]), "a build"):
    print("held", flush=True)
    time.sleep(float(sys.argv[2]))
"""


def holder(folder, seconds):
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder), str(seconds)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert process.stdout.readline().strip() == "held"
    return process


def ended(process):
    process.kill()
    process.wait()
    process.stdout.close()


def test_a_second_writer_waits_and_is_told_for_whom(tmp_path):
    folder = tmp_path / "written"
    process, words = holder(folder, 1.5), []
    try:
        with one_writer(folder, "another", waiting=words.append, wait_s=60):
            assert process.wait(timeout=10) == 0
    finally:
        ended(process)
    (sentence,) = words
    assert sentence.startswith("waiting for a build since 2")
    assert f"process {process.pid} on " in sentence


def test_a_second_writer_gives_up_naming_the_first_and_since_when(tmp_path):
    folder = tmp_path / "written"
    process = holder(folder, 60)
    told = rf"a build since \d{{4}}-\d\d-\d\d \d\d:\d\d \(process {process.pid} on "
    try:
        with pytest.raises(HeldError, match=told), one_writer(folder, "another", wait_s=0.2):
            pytest.fail("two wrote at once")
    finally:
        ended(process)


def test_the_lock_is_held_while_the_folder_is_replaced(tmp_path):
    folder = scene(tmp_path / "home")
    with one_writer(folder, "a build"):
        folder.rename(tmp_path / "elsewhere")
        with pytest.raises(HeldError):
            one_of_another_thread(folder)


def one_of_another_thread(folder):
    # a thread begins with an empty context: it does not count as the holder
    from concurrent.futures import ThreadPoolExecutor

    def hold():
        with one_writer(folder, "another", wait_s=0.1):
            pytest.fail("two wrote at once")

    with ThreadPoolExecutor(1) as pool:
        pool.submit(hold).result()


def test_two_names_of_one_folder_have_one_lock(tmp_path):
    (tmp_path / "written").mkdir()
    (tmp_path / "other").symlink_to(tmp_path / "written")
    assert lock_path(tmp_path / "other") == lock_path(tmp_path / "written")


def test_a_writer_within_a_writer_goes_on(tmp_path):
    folder = tmp_path / "written"
    with one_writer(folder, "a build"):
        with one_writer(folder, "writing", wait_s=0.1):
            pass
        with pytest.raises(HeldError):  # the inner one has not let go
            one_of_another_thread(folder)


@pytest.mark.parametrize("what", ["file", "reach", "disk"])
def test_what_cannot_change_as_a_whole_is_refused(tmp_path, what):
    place = {"file": tmp_path / "page.html", "reach": tmp_path, "disk": Path("/")}[what]
    (tmp_path / "page.html").write_text("mine")
    (tmp_path / "reach.toml").write_text("mine")
    before = sorted(tmp_path.parent.iterdir())
    with pytest.raises(MarkupError, match="for the maps alone"), one_writer(place, "a build"):
        pytest.fail("taken")
    assert sorted(tmp_path.parent.iterdir()) == before
    assert (tmp_path / "page.html").read_text() == "mine"


LEFT = {
    "cache/.123-ground-0123456789abcdef.nc": True,
    "cache/.123-ground-0123456789abcdef.nc.blake2": True,
    "cache/.9-water-ab12.gpkg-journal": True,
    ".writing-ab1_cdef/maps/index.html": True,
    "cache/.123-facts-ab.json": False,
    ".123-days.html": False,
    ".2024-notes.txt": False,
    "maps/.7-notes.html": False,
    "cache/.hidden": False,
    "cache/ground-0123456789abcdef.nc": False,
    ".writing-my-novel/one.txt": False,
}


def test_only_what_dead_runs_left_is_swept(tmp_path):
    folder = scene(tmp_path / "home")
    write(folder, dict.fromkeys(LEFT, "left"))
    with one_writer(folder, "a build"):
        pass
    assert {name: (folder / name).exists() for name in LEFT} == {
        name: not gone for name, gone in LEFT.items()
    }


def test_what_the_days_left_long_ago_is_swept_too(tmp_path):
    folder = scene(tmp_path / "home")
    write(folder, {".123-days.html": "half", "cache/.5-facts-ab.json": "half"})
    past = time.time() - 2 * 3600
    for name in (".123-days.html", "cache/.5-facts-ab.json"):
        os.utime(folder / name, (past, past))
    with one_writer(folder, "a build"):
        pass
    assert not (folder / ".123-days.html").exists()
    assert not (folder / "cache" / ".5-facts-ab.json").exists()


def test_nothing_is_swept_while_another_writes(tmp_path):
    folder = scene(tmp_path / "home")
    write(folder, {"cache/.123-ground-ab.nc": "being written"})
    write(folder.with_name(".written-new"), {"maps/index.html": "being written"})
    process = holder(tmp_path / "home" / "else", 0)
    ended(process)
    with one_writer(folder.with_name("other"), "another folder's build"):
        assert (folder / "cache" / ".123-ground-ab.nc").exists()
    path = lock_path(folder)
    with writer.locked(path, "a build"):
        settle_if_free(folder)
    assert (folder.with_name(".written-new") / "maps" / "index.html").exists()


def test_a_reader_leaves_a_whole_folder_untouched(tmp_path):
    folder = scene(tmp_path / "home")
    settle_if_free(folder)
    assert sorted(path.name for path in folder.parent.iterdir()) == ["written"]
