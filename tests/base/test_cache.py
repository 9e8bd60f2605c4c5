"""Stored results: whole or not there, and the same when read back."""

from __future__ import annotations

import pytest
import xarray as xr
from shapely import Point

from reachmap.base.cache import remembered, remembered_layers, write_aside
from reachmap.base.stamp import digest_file, digest_files, stage_key
from reachmap.base.tables import layer_frame
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


def test_layers_come_back_with_their_columns_even_when_empty(tmp_path):
    row = {"flow": 1.0, "flow_label": "a", "length_m": 2.0, "geometry": Point(3, 4)}
    made = {
        "edge_left": layer_frame("edge_left", [row], CRS),
        "seams": layer_frame("seams", [], CRS),
    }
    back = remembered_layers(tmp_path / "water-1.gpkg", lambda: made)
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
