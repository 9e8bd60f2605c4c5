"""A full disk in the middle of a save: said in words, nothing lost, and kept once there is room."""

import errno
import json
import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from pyogrio.errors import DataSourceError

from reachmap.markup import write
from reachmap.web.editor import journal
from reachmap.web.editor.session import prepare
from reachmap.web.editor.store import KeepError, StaleError
from tests.web.editor.folders import bank, body, opened, plain, river, sent, sounding
from tests.web.editor.serving import serving

ROOT = Path(__file__).resolve().parents[3]


def full(*_given, **_more):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def torn(path, *_given, **_more):
    """Write half a file, as far as there was room."""
    Path(path).write_bytes(b"SQLite format 3\0 half")
    full()


def replaced(monkeypatch, name):
    """Let the rename of one file find the disk full."""
    was = Path.replace

    def replace(self, target):
        if Path(target).name == name:
            full()
        return was(self, target)

    monkeypatch.setattr(Path, "replace", replace)


def raising(error):
    def raises(*_given, **_more):
        raise error

    return raises


POINTS = {
    "the note": lambda patch: patch.setattr(journal.os, "fsync", full),
    "the rename of the note": lambda patch: replaced(patch, journal.JOURNAL),
    "the copy of the file": lambda patch: patch.setattr(
        write,
        "_copy_database",
        raising(sqlite3.OperationalError("database or disk is full")),
    ),
    "half of the copy": lambda patch: patch.setattr(write, "_copy_database", lambda _, b: torn(b)),
    "a layer": lambda patch: patch.setattr(
        write.pyogrio, "write_dataframe", raising(DataSourceError("Failed to commit transaction"))
    ),
    "the sync of the copy": lambda patch: patch.setattr(write.os, "fsync", _second_full()),
    "the rename of the file": lambda patch: replaced(patch, write.MARKUP_FILE),
}


def _second_full():
    calls, was = [], os.fsync

    def sync(number):
        calls.append(number)
        if len(calls) > 1:
            full()
        was(number)

    return sync


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "home"
    prepare(home)
    opened(home).save(sent(river(1)))
    return home


@pytest.mark.parametrize("point", POINTS)
def test_the_page_says_it_and_keeps_the_drawing_when_there_is_room(folder, monkeypatch, point):
    with serving(folder) as served:
        first = served.told("drawing")["marks"]
        message = body([*first, bank(), sounding()])
        with monkeypatch.context() as patch:
            POINTS[point](patch)
            for _ in range(2):  # the page tries again by itself
                status, _, answer = served.ask("drawing", json_body=message)
                words = json.loads(answer)["said"]
                assert status == 507
                assert "disk" in words
                assert "Make room" in words
                assert "What you see stays on this page" in words
        before = (folder / write.MARKUP_FILE).read_bytes()
        assert before.startswith(b"SQLite format 3\0")
        assert [one.name for one in folder.glob(".*-markup.gpkg")] == []
        status, _, answer = served.ask("drawing", json_body=message)
        assert status == 200, answer
    assert [one[0] for one in plain(folder)] == ["river", "banks", "soundings"]
    assert not (folder / journal.JOURNAL).exists()


@pytest.mark.parametrize("point", POINTS)
def test_the_folder_opens_again_full_or_not(folder, monkeypatch, point):
    store = opened(folder)
    marks = [one.mark.as_json() for one in store.kept]
    with monkeypatch.context() as patch:
        POINTS[point](patch)
        with pytest.raises((OSError, KeepError)):
            store.save(sent(*marks, bank(), version=store.version))
        again = opened(folder)  # the program was started anew, and there still is no room
        assert [one.mark.layer for one in again.kept] == ["river"]
        noted = (folder / journal.JOURNAL).exists()
        if noted:
            assert "cannot be written into the drawing yet" in again.as_json()["said"]
            with pytest.raises(StaleError):  # nothing is saved over what waits
                again.save(sent(*marks, sounding(), version=again.version))
    assert noted == ("note" not in point and "sync" not in point)  # a note is synced too
    told = again.as_json()  # there is room: the page is loaded again
    assert [mark["layer"] for mark in told["marks"]] == ["river", *(["banks"] if noted else [])]
    again.save(sent(*told["marks"], sounding(), version=told["version"]))
    assert [one[0] for one in plain(folder)][-1] == "soundings"


def test_the_line_begun_outlives_a_full_disk(folder, monkeypatch):
    draft = {"id": "d", "layer": "river", "shape": "LineString", "paths": [[[-141.3, 46.2]]]}
    store = opened(folder)
    marks = [one.mark.as_json() for one in store.kept]
    message = sent(*marks, version=store.version, draft=draft | {"values": {}})
    with monkeypatch.context() as patch:
        patch.setattr(journal.os, "fsync", full)
        with pytest.raises(OSError, match=r"[Tt]he disk is full"):
            store.save(message)
    store.save(message)
    assert opened(folder).draft is not None


FILLER = """
import json, resource, signal, sys
from pathlib import Path
from reachmap.web.editor.store import KeepError
from reachmap.web.editor.schema import read_drawing
from tests.web.editor.folders import bank, body, opened, plain
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
folder = Path(sys.argv[1])
store = opened(folder)
marks = [one.mark.as_json() for one in store.kept]
marks += [bank(id_=f"b{n}", note="y" * 3000) for n in range(100)]
message = read_drawing(json.dumps(body(marks, store.version)).encode())
size = (folder / "markup.gpkg").stat().st_size
for limit in (size - 4096, size, size + 4096, size + 200_000, 1_000):
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    try:
        store.save(message)
    except (KeepError, OSError) as error:
        assert plain(folder)[0][0] == "river" and len(plain(folder)) == 1, "the file changed"
        print("refused", flush=True)
    else:
        print("saved", flush=True)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
store.save(message)
print(len(plain(folder)), flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGXFSZ"), reason="this system has no limit of file size")
def test_real_writes_that_the_system_cuts_short_never_replace_the_drawing(folder):
    done = subprocess.run(
        [sys.executable, "-c", FILLER, str(folder)],
        capture_output=True, text=True, cwd=ROOT, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.stdout.split() == [*["refused"] * 5, "101"], done.stderr
