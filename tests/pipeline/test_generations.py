"""Builds of one folder after and beside each other: nothing that stood is lost."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
import xarray as xr

import reachmap
from reachmap.base import disk, writer
from reachmap.base.disk import DiskFullError
from reachmap.base.errors import MarkupError
from reachmap.base.fingerprint import digest_files
from reachmap.base.lock import HeldError
from reachmap.markup import read_markup
from reachmap.outputs import reuse, write
from reachmap.outputs.choices import PLAIN, Choices
from reachmap.pipeline import build_reach as door
from reachmap.pipeline import stamp
from reachmap.pipeline.order import build_reach, make_product
from reachmap.pipeline.parts import write_parts
from reachmap.pipeline.stamp import Options, current_report
from reachmap.reach import opened
from tests.base.test_writer import ended, holder
from tests.markup.folders import make as reach_folder

pytestmark = pytest.mark.compiled

ROOT = Path(__file__).resolve().parents[2]
TWO = Options(quick=True, cell=4.0, flows=(20.0, 30.0))
ONE = Options(quick=True, cell=4.0, flows=(30.0,))


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stamp, "program_digest", lambda: "fixed")
        folder = reach_folder(tmp_path_factory.mktemp("reach"))
        build_reach(read_markup(folder), folder / "written", TWO)
        yield folder


@pytest.fixture
def folder(first, tmp_path):
    """A built folder of one's own."""
    return Path(shutil.copytree(first, tmp_path / "reach"))


def snapshot(folder):
    return digest_files([path for path in folder.rglob("*") if path.is_file()], folder)


def outputs(folder):
    return {name: one for name, one in snapshot(folder).items() if not name.startswith("cache/")}


def test_a_narrower_build_leaves_the_fuller_one_and_is_what_was_built_last(folder):
    before = outputs(folder / "written")
    mapped = reachmap.open_reach(folder).map([30.0], cell=4.0, quick=True)
    built = mapped.write()
    assert built.folder == folder / "written-quick"
    assert [flow["flow_m3_s"] for flow in built.report["flows"]] == [30.0]
    assert not [name for name in built.fresh if not name.startswith("doubt")]  # from the other
    assert outputs(folder / "written") == before
    assert stamp.stored_options(folder / "written-quick").flows == (30.0,)
    again = mapped.write(replace=True)
    assert again.folder == folder / "written"
    assert not (folder / "written" / "maps" / "20m3s.html").exists()


def test_a_named_folder_that_holds_a_fuller_build_is_refused(folder):
    before = outputs(folder / "written")
    mapped = reachmap.open_reach(folder).map([30.0], cell=4.0, quick=True)
    with pytest.raises(MarkupError, match="fuller build"):
        mapped.write(folder / "written")
    assert outputs(folder / "written") == before
    assert not (folder / "written-quick").exists()


def test_a_build_that_waited_for_a_fuller_one_does_not_overwrite_it(folder, monkeypatch):
    full = folder.with_name("full")
    (folder / "written").rename(full)
    real, entered = door.one_writer, []

    def waits(path, doing, **kwargs):
        if not entered:
            full.rename(folder / "written")  # the other build ends while this one waits
        entered.append(path)
        return real(path, doing, **kwargs)

    monkeypatch.setattr(door, "one_writer", waits)
    built, place = door.build_placed(read_markup(folder), None, ONE)
    assert built.folder == place.folder == folder / "written-quick"
    assert place.why
    assert entered == [folder / "written", folder / "written-quick"]  # each under its own lock
    assert (folder / "written" / "maps" / "20m3s.html").exists()


@pytest.mark.parametrize("what", ["build", "read", "sheet", "fit"])
def test_two_writers_of_one_folder_do_not_mix(folder, what, monkeypatch):
    monkeypatch.setattr(writer, "WAIT_S", 0.2)
    reach, out, words = read_markup(folder), folder / "written", []

    def told(step, *_):
        words.append(step)

    doing = {
        "build": lambda: build_reach(reach, out, ONE, progress=told),
        "read": lambda: make_product(reach, out, TWO, progress=told),
        "sheet": lambda: write_parts(reach, out, TWO, ("sheets",), PLAIN, progress=told),
        "fit": lambda: reachmap.open_reach(folder).fit(keep=True, progress=told),
    }
    if what == "fit":
        monkeypatch.setattr(opened, "fit_reach", lambda *_: None)
        monkeypatch.setattr(opened, "write_fitted", lambda *_: pytest.fail("written"))
    before = snapshot(out)
    process = holder(out, 60)
    try:
        with pytest.raises(HeldError, match=rf"a build since .* \(process {process.pid} on"):
            doing[what]()
    finally:
        ended(process)
    assert snapshot(out) == before
    assert any(word.startswith("waiting for a build since") for word in words)


def full_disk(target):
    (target / "half.txt").write_text("half")
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def fails_to_write(monkeypatch):
    extra = ("more", lambda _product, target, _chosen: full_disk(target))
    monkeypatch.setattr(write, "WRITERS", (*write.WRITERS, extra))


def fails_to_store(monkeypatch):
    def fails(_, path, **__):
        Path(path).write_text("half")
        msg = "NetCDF: HDF error"
        raise RuntimeError(msg)

    monkeypatch.setattr(xr.Dataset, "to_netcdf", fails)
    monkeypatch.setattr(disk.shutil, "disk_usage", lambda _: SimpleNamespace(free=0))


def fails_silently(monkeypatch):
    monkeypatch.setattr(disk.shutil, "disk_usage", lambda _: SimpleNamespace(free=0))


def fails_to_sync(monkeypatch):
    def fails(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("reachmap.base.generation.sync_tree", fails)


@pytest.mark.parametrize("fails", [fails_to_write, fails_to_store, fails_silently, fails_to_sync])
def test_on_a_full_disk_the_earlier_build_stays_whole(folder, fails, monkeypatch):
    reach, out = read_markup(folder), folder / "written"
    before = outputs(out)
    fails(monkeypatch)
    with pytest.raises(DiskFullError, match="/written: the disk is full"):
        build_reach(reach, out, Options(quick=True, cell=4.0, flows=(30.0, 45.0)))
    assert outputs(out) == before
    assert not [path for path in folder.rglob(".*") if path.name != ".written.lock"]
    monkeypatch.undo()
    monkeypatch.setattr(stamp, "program_digest", lambda: "fixed")
    assert current_report(folder, out, TWO) is not None


def test_a_full_disk_is_exit_code_2_and_no_traceback(folder):
    code = (
        "import errno, sys\n"
        "from reachmap.outputs import write\n"
        "def full(*_): raise OSError(errno.ENOSPC, 'No space left on device')\n"
        "write.WRITERS = (*write.WRITERS, ('more', full))\n"
        "sys.argv = ['reachmap', 'build', *sys.argv[1:]]\n"
        "from reachmap.cli import main; main()\n"
    )
    words = [str(folder), "--quick", "--cell", "4", "--flow", "30", "--replace"]
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 2
    assert "the disk is full" in done.stderr
    assert "Traceback" not in done.stderr


def test_sheets_alone_make_a_whole_generation_too(folder, monkeypatch):
    out = folder / "written"
    before = outputs(out)
    (out / "my-notes.txt").write_text("mine")
    product = make_product(read_markup(folder), out, TWO)
    with monkeypatch.context() as patch:
        patch.setattr(write, "WRITERS", (("sheets", lambda _, target, __: full_disk(target)),))
        with pytest.raises(DiskFullError):
            write.write_some(product, out, ("sheets",), PLAIN)
    assert outputs(out) == before | {"my-notes.txt": outputs(out)["my-notes.txt"]}
    inode = (out / "maps" / "index.html").stat().st_ino
    paths = write.write_some(product, out, ("sheets",), Choices(paper="half-letter"))
    after = outputs(out)
    assert after.pop("my-notes.txt")
    assert after.keys() == before.keys()
    changed = {name for name in after if after[name] != before[name]}
    assert changed == {"report.json", *(path.relative_to(out).as_posix() for path in paths)}
    assert (out / "maps" / "index.html").stat().st_ino == inode
    assert current_report(folder, out, TWO) is not None


def test_where_a_disk_knows_no_second_names_files_are_copied(folder, monkeypatch):
    out = folder / "written"
    product = make_product(read_markup(folder), out, TWO)

    def refuses(*_):
        raise OSError(errno.EPERM, "no second names here")

    monkeypatch.setattr(reuse.os, "link", refuses)
    write.write_some(product, out, ("sheets",), PLAIN)
    assert current_report(folder, out, TWO) is not None


def test_a_report_that_names_a_file_outside_is_not_current_and_removes_nothing(folder):
    out = folder / "written"
    report = stamp.read_report(out)
    mine = folder / "markup.gpkg"
    for name in (str(mine), "../markup.gpkg"):
        files = {**report["files"], name: stamp.digest_files([mine], folder)["markup.gpkg"]}
        text = stamp.json.dumps({**report, "files": files})
        (out / "report.json").write_text(text)
        assert current_report(folder, out, TWO) is None
    build_reach(read_markup(folder), out, TWO)
    assert mine.exists()


@pytest.mark.parametrize(
    "options",
    [
        {"cell": 1e-9},
        {"cell": "2"},
        {"flows": [1e300]},
        {"flows": ["nan"]},
        {"flows": []},
        {"quick": "yes"},
        {"season": "spring"},
        {"tiles": "javascript:alert(1)"},
        {"tiles": "https://[x/{z}/{x}/{y}"},
        {"clarity_m": -1.0},
        {"wind": 7},
        {"unheard": 1},
    ],
)
def test_options_that_no_command_would_take_are_not_taken_from_a_report(tmp_path, options):
    told = {**stamp.asdict(TWO), **options}
    (tmp_path / "report.json").write_text(stamp.json.dumps({"options": told}))
    assert stamp.stored_options(tmp_path) == Options()


def test_options_of_a_report_are_taken(tmp_path):
    good = Options((20.0,), 1.0, season="summer", tiles="https://a.example/{z}/{x}/{y}")
    (tmp_path / "report.json").write_text(stamp.json.dumps({"options": stamp.asdict(good)}))
    assert stamp.stored_options(tmp_path) == good
