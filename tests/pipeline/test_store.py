"""The cache folder."""

from __future__ import annotations

import os
import time

import pytest

from reachmap.base.tables import layer_frame
from reachmap.pipeline.store import KEEP_DAYS, Store
from tests.made import CRS, made_ground


def test_a_stage_is_made_once_and_told(tmp_path):
    first = Store(tmp_path)
    first.dataset("ground", "k1", made_ground)
    assert first.fresh == ["ground"]
    assert first.seconds["ground"] > 0
    second = Store(tmp_path)
    second.dataset("ground", "k1", lambda: pytest.fail("made again"))
    assert second.fresh == []
    assert second.has("ground", "k1")
    assert not second.has("ground", "k2")


def test_flows_of_one_stage_have_files_of_their_own(tmp_path):
    store = Store(tmp_path)
    for key in ("k1", "k2"):
        store.layers(f"water {key}", key, lambda: {"seams": layer_frame("seams", [], CRS)})
    assert sorted(path.name for path in tmp_path.iterdir()) == ["water-k1.gpkg", "water-k2.gpkg"]


def test_only_old_results_that_no_build_used_are_dropped(tmp_path):
    past = time.time() - (KEEP_DAYS + 1) * 86_400
    for name in ("ground-old.nc", "ground-used.nc", "ground-new.nc", "notes.txt"):
        (tmp_path / name).write_text("x")
        if name != "ground-new.nc":
            os.utime(tmp_path / name, (past, past))
    store = Store(tmp_path)
    store.has("ground", "used")
    store.drop_old()
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == ["ground-new.nc", "ground-used.nc", "notes.txt"]
