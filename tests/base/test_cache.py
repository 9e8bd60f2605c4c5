"""Stored results: whole or not there, and the same when read back."""

from __future__ import annotations

import errno
import os
import stat
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import pytest
import xarray as xr
from shapely import Point

from reachmap.base import disk
from reachmap.base.cache import (
    digest_path,
    is_good,
    keep_file,
    keep_layers,
    remembered,
    stored_dataset,
    stored_layers,
    write_aside,
)
from reachmap.base.disk import DiskFullError
from reachmap.base.fingerprint import digest_file, digest_files, stage_key
from reachmap.base.schema import layer_frame
from tests.made import CRS, made_ground


def test_a_result_is_made_once(tmp_path):
    calls = []

    def make() -> xr.Dataset:
        calls.append(1)
        return made_ground()

    first = remembered(tmp_path / "ground-1.nc", make)
    second = remembered(tmp_path / "ground-1.nc", make)
    assert len(calls) == 1
    xr.testing.assert_identical(first, second)
    xr.testing.assert_allclose(first, made_ground())


def test_a_writer_that_fails_leaves_nothing(tmp_path):
    def write(path):
        path.write_text("half")
        raise RuntimeError

    with pytest.raises(RuntimeError):
        write_aside(tmp_path / "result.txt", write)
    assert list(tmp_path.iterdir()) == []


def test_a_writer_that_fails_leaves_what_was_there(tmp_path):
    kept = tmp_path / "result.txt"
    kept.write_text("good")

    def write(path):
        path.write_text("half")
        raise RuntimeError

    with pytest.raises(RuntimeError):
        write_aside(kept, write)
    assert kept.read_text() == "good"


def cached_layers(path, make):
    stored = stored_layers(path)
    return keep_layers(path, make()) if stored is None else stored


def test_layers_come_back_with_their_columns_even_when_empty(tmp_path):
    row = {"flow": 1.0, "flow_label": "a", "length_m": 2.0, "geometry": Point(3, 4)}
    made = {
        "edge_left": layer_frame("edge_left", [row], CRS),
        "seams": layer_frame("seams", [], CRS),
    }
    back = cached_layers(tmp_path / "water-1.gpkg", lambda: made)
    assert back["edge_left"]["length_m"].tolist() == [2.0]
    assert list(back["seams"].columns) == list(made["seams"].columns)
    assert back["seams"].crs == CRS


def test_a_key_changes_with_each_thing_it_depends_on():
    base = stage_key("flow", 1, {"cell": 2.0}, {"ground": "aa"})
    others = [
        stage_key("water", 1, {"cell": 2.0}, {"ground": "aa"}),
        stage_key("flow", 2, {"cell": 2.0}, {"ground": "aa"}),
        stage_key("flow", 1, {"cell": 1.0}, {"ground": "aa"}),
        stage_key("flow", 1, {"cell": 2.0}, {"ground": "ab"}),
    ]
    assert len({base, *others}) == 5
    assert base == stage_key("flow", 1, {"cell": 2.0}, {"ground": "aa"})


def test_a_digest_is_the_published_one(tmp_path):
    # FIPS 180-2 (2002), appendix B.1: SHA-256 of "abc"
    path = tmp_path / "a.txt"
    path.write_bytes(b"abc")
    known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest_file(path) == known
    assert digest_files([path], tmp_path) == {"a.txt": known}


def damages():
    """Yield ways to damage a stored file, by name."""

    def folder(path):
        path.unlink()
        path.mkdir()
        (path / "mine.txt").write_text("mine")

    def flipped(path, at):
        raw = bytearray(path.read_bytes())
        raw[int(len(raw) * at)] ^= 4
        path.write_bytes(raw)

    def linked(path):
        moved = path.rename(path.with_name("moved-aside"))
        path.symlink_to(moved)

    def another(path):
        source = path.with_name("another" + path.suffix)
        path.write_bytes(source.read_bytes())
        digest_path(path).write_bytes(digest_path(source).read_bytes())

    return {
        "absent": lambda path: path.unlink(),
        "empty": lambda path: path.write_bytes(b""),
        "garbage": lambda path: path.write_bytes(b"garbage" * 999),
        "half": lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]),
        "longer": lambda path: path.write_bytes(path.read_bytes() + b"x"),
        **{f"bit at {at}": partial(flipped, at=at) for at in (0.0, 0.3, 0.6, 0.9, 0.99)},
        "folder": folder,
        "link": linked,
        "unreadable": lambda path: path.chmod(0),
        "no digest": lambda path: digest_path(path).unlink(),
        "empty digest": lambda path: digest_path(path).write_text(""),
        "binary digest": lambda path: digest_path(path).write_bytes(b"\xff\x00"),
        "folder for a digest": lambda path: (digest_path(path).unlink(), digest_path(path).mkdir()),
        "another's": another,
    }


@pytest.mark.parametrize("damage", damages())
@pytest.mark.parametrize("kind", ["dataset", "layers"])
def test_a_damaged_file_counts_as_absent_and_is_made_again(tmp_path, damage, kind):
    row = {"flow": 1.0, "flow_label": "a", "length_m": 2.0, "geometry": Point(3, 4)}
    layers = {"edge_left": layer_frame("edge_left", [row], CRS)}
    ways = {
        "dataset": (remembered, made_ground, stored_dataset),
        "layers": (cached_layers, lambda: layers, stored_layers),
    }
    remember, make, stored = ways[kind]
    ending = {"dataset": "nc", "layers": "gpkg"}[kind]
    path = tmp_path / f"ground-1.{ending}"
    remember(tmp_path / f"another.{ending}", make)
    remember(path, make)
    assert stored(path) is not None
    damages()[damage](path)
    if damage != "unreadable" or os.geteuid() != 0:  # root reads everything
        assert stored(path) is None
    calls = []
    for _ in range(2):
        back = remember(path, lambda: (calls.append(1), make())[1])
        if kind == "dataset":
            xr.testing.assert_allclose(back, make())
        else:
            assert back["edge_left"]["length_m"].tolist() == [2.0]
    assert len(calls) <= 1
    assert is_good(path)
    if damage == "folder":
        assert (tmp_path / f"{path.name}.folder-1" / "mine.txt").read_text() == "mine"


def test_a_stored_file_that_no_longer_reads_is_made_again(tmp_path):
    path = tmp_path / "ground-1.nc"
    keep_file(path, lambda aside: aside.write_text("a digest, but no netCDF"), lambda _: None)
    assert is_good(path)
    assert remembered(path, made_ground) is not None


def test_reading_leaves_a_stored_file_as_it_is(tmp_path):
    path = tmp_path / "water-1.gpkg"
    made = {"seams": layer_frame("seams", [], CRS)}
    for _ in range(3):
        cached_layers(path, lambda: made)
        assert is_good(path)


def test_a_file_is_on_the_disk_before_it_bears_its_name(tmp_path, monkeypatch):
    done = []
    replace = Path.replace
    monkeypatch.setattr(disk.os, "fsync", lambda descriptor: done.append(describe(descriptor)))
    monkeypatch.setattr(
        Path, "replace", lambda path, target: (done.append("rename"), replace(path, target))[1]
    )
    write_aside(tmp_path / "result.txt", lambda aside: aside.write_text("whole"))
    assert done == (["file", "rename", "folder"] if os.name == "posix" else ["file", "rename"])


def describe(descriptor):
    return "folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "file"


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT])
def test_a_full_disk_is_told_in_one_sentence_and_leaves_what_was_there(tmp_path, number):
    kept = tmp_path / "result.txt"
    kept.write_text("good")

    def write(path):
        path.write_text("half")
        raise OSError(number, "kein Platz mehr")  # the number counts, not the language

    with pytest.raises(DiskFullError, match="the disk is full"):
        write_aside(kept, write)
    assert [path.name for path in tmp_path.iterdir()] == ["result.txt"]
    assert kept.read_text() == "good"


def test_what_a_library_raises_on_a_full_disk_is_seen_by_the_room_left(tmp_path, monkeypatch):
    def write(path):
        path.write_text("half")
        msg = "HDF error"
        raise RuntimeError(msg)

    with pytest.raises(RuntimeError, match="HDF"):
        write_aside(tmp_path / "a.nc", write)
    monkeypatch.setattr(disk.shutil, "disk_usage", lambda _: SimpleNamespace(free=4096))
    with pytest.raises(DiskFullError):
        write_aside(tmp_path / "a.nc", write)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", ["database or disk is full", "x: No space left on device"])
def test_a_full_disk_is_known_by_a_librarys_words(tmp_path, words):
    def write(_):
        raise RuntimeError(words)

    with pytest.raises(DiskFullError):
        write_aside(tmp_path / "a.gpkg", write)


def test_other_errors_stay_what_they_are(tmp_path):
    def write(_):
        raise OSError(errno.EACCES, "refused")

    with pytest.raises(PermissionError, match="refused"):
        write_aside(tmp_path / "a.nc", write)
