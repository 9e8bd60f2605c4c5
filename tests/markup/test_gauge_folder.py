"""The gauge of a folder by itself, whatever its drawing is like."""

from __future__ import annotations

from pathlib import Path

import pytest

from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.markup.gauge_of_folder import folder_gauge, gauge_files
from tests.gauge.gauges import DATA

TOML = 'format = 1\nname = "made"\nunits = "us"\n[gauge]\nname = "ours"\n'


def folder_with(tmp_path: Path, *names: str, toml: str = TOML) -> Path:
    (tmp_path / "gauge").mkdir()
    (tmp_path / "reach.toml").write_text(toml, encoding="utf-8")
    for name in names:
        (tmp_path / "gauge" / name).write_bytes((DATA / name).read_bytes())
    return tmp_path


def test_a_gauge_is_read_where_nothing_is_drawn(tmp_path):
    read = folder_gauge(folder_with(tmp_path, "daily.rdb"))
    assert read.gauge is not None
    assert read.gauge.name == "ours"
    assert from_si(float(read.gauge.flow[1]), "cfs") == pytest.approx(1470)
    assert read.units is UnitSystem.US


def test_its_files_are_those_that_reach_toml_names(tmp_path):
    toml = TOML + 'files = "mine/*.rdb"\ntime_zone = "America/New_York"\n'
    folder = folder_with(tmp_path, "daily.rdb", toml=toml)
    (folder / "mine").mkdir()
    (folder / "mine" / "b.rdb").write_bytes((DATA / "rating_base.rdb").read_bytes())
    assert [path.name for path in gauge_files(folder)] == ["b.rdb", "reach.toml"]
    read = folder_gauge(folder)
    assert read.zone == "America/New_York"
    assert read.gauge is not None
    assert read.gauge.segments


def test_faults_are_told_and_a_folder_without_anything_has_none(tmp_path):
    folder = folder_with(tmp_path, "rating_base.rdb")
    (folder / "gauge" / "bad.json").write_text("{", encoding="utf-8")
    assert "bad.json" in str(folder_gauge(folder).faults[0])
    empty = folder_gauge(tmp_path / "nowhere")
    assert (empty.gauge, empty.faults, empty.files) == (None, (), ())
