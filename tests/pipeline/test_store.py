"""The cache folder."""

from __future__ import annotations

import os
import time

import pytest

from reachmap.base.schema import layer_frame
from reachmap.pipeline.store import KEEP_DAYS, Store
from reachmap.pipeline.warm import keep_warm
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
    names = sorted(path.name for path in tmp_path.glob("*.gpkg"))
    assert names == ["water-k1.gpkg", "water-k2.gpkg"]


def test_only_old_results_that_no_build_used_are_dropped(tmp_path):
    past = time.time() - (KEEP_DAYS + 1) * 86_400
    old = ("ground-old.nc", "ground-old.nc.blake2", "ground-used.nc", "ground-used.nc.blake2")
    for name in (*old, "ground-new.nc", "ground-gone.nc.blake2", "notes.txt"):
        (tmp_path / name).write_text("x")
        if name not in ("ground-new.nc", "ground-gone.nc.blake2"):
            os.utime(tmp_path / name, (past, past))
    store = Store(tmp_path)
    store.has("ground", "used")
    store.drop_old()
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == ["ground-new.nc", "ground-used.nc", "ground-used.nc.blake2", "notes.txt"]


def test_what_is_found_stored_is_returned_even_if_it_is_damaged_meanwhile(tmp_path):
    Store(tmp_path).dataset("flow", "k1", made_ground)
    store = Store(tmp_path)
    assert store.has("flow", "k1")
    (tmp_path / "flow-k1.nc").write_text("damaged")
    assert store.dataset("flow", "k1", lambda: pytest.fail("made again")) is not None


def test_a_damaged_result_is_not_had(tmp_path):
    Store(tmp_path).dataset("flow", "k1", made_ground)
    (tmp_path / "flow-k1.nc").write_text("damaged")
    store = Store(tmp_path)
    assert not store.has("flow", "k1")
    store.dataset("flow", "k1", made_ground)
    assert store.fresh == ["flow"]


def test_other_caches_are_read_from_and_never_written_to(tmp_path):
    other = Store(tmp_path / "other")
    other.dataset("ground", "k1", made_ground)
    other.layers("water", "k1", lambda: {"seams": layer_frame("seams", [], CRS)})
    before = sorted((path.name, path.read_bytes()) for path in other.folder.iterdir())
    store = Store(tmp_path / "own", (other.folder, tmp_path / "none"))
    assert store.has("ground", "k1")
    store.dataset("ground", "k1", lambda: pytest.fail("made again"))
    store.layers("water", "k1", lambda: pytest.fail("made again"))
    assert not (tmp_path / "own").exists()
    (other.folder / "ground-k1.nc").write_text("damaged")
    again = Store(tmp_path / "own", (other.folder,))
    again.dataset("ground", "k1", made_ground)
    assert again.fresh == ["ground"]
    after = sorted((path.name, path.read_bytes()) for path in other.folder.iterdir())
    changed = {name for (name, raw), (_, now) in zip(before, after, strict=True) if raw != now}
    assert changed == {"ground-k1.nc"}  # by this test


def test_what_is_made_of_results_is_held_by_a_program_that_builds_again_and_by_no_other(tmp_path):
    made = []

    def make():
        made.append(len(made))
        return made[-1]

    assert [Store(tmp_path).held("back", "k1", make) for _ in range(2)] == [0, 1]
    with keep_warm() as warm:
        assert [Store(tmp_path).held("back", key, make) for key in ("k1", "k1", "k2")] == [2, 2, 3]
        store = Store(tmp_path)
        assert store.held("back", "k2", make) == 3
        store.drop_old()
        assert list(warm.results) == ["back-k2"]  # what the last build did not use is let go
    assert not list(tmp_path.iterdir())
