"""A folder watched: built once, again after a change, not while it is written, told of faults."""

from __future__ import annotations

import threading
import time
from multiprocessing import active_children

import geopandas as gpd
import pytest
import xarray as xr
from shapely import Point

from reachmap.base.errors import Fault, MarkupError
from reachmap.pipeline import watching
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.store import Store
from reachmap.pipeline.warm import keep_warm, warm_state
from reachmap.pipeline.watching import Watch, snapshot


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(watching, "POLL_S", 0.02)
    (tmp_path / "reach.toml").write_text("format = 1\n")
    return tmp_path


class Builder:
    """Stands for a build: notes that it ran, what was held, and does what the test says."""

    def __init__(self):
        self.ran, self.does = 0, lambda _: None

    def __call__(self, *_, replace, progress):
        self.ran += 1
        assert warm_state() is not None
        assert not replace
        with progress() as told:
            told("the ground", 0, 1)
            self.does(told)


def until(true, seconds=5.0):
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not come about"
        time.sleep(0.01)


class Running:
    def __init__(self, folder, build):
        self.watch = Watch(folder, folder / "written", Options(), build)
        self.thread = threading.Thread(target=self.watch.run, daemon=True)

    def __enter__(self):
        self.thread.start()
        return self.watch

    def __exit__(self, *_):
        self.watch.ended.set()
        self.thread.join(5.0)
        assert not self.thread.is_alive()


def test_it_is_built_when_it_begins_and_after_each_change_and_not_without_one(folder):
    build = Builder()
    with Running(folder, build) as watch:
        until(lambda: watch.state.number == 1)
        time.sleep(0.3)
        assert build.ran == 1
        (folder / "reach.toml").write_text("format = 1\n# a change\n")
        until(lambda: watch.state.number == 2)
        (folder / "log.sqlite").write_text("a trip")
        (folder / "written").mkdir()
        (folder / "written" / "report.json").write_text("{}")
        time.sleep(0.3)
    assert build.ran <= 3  # the log is an input where it bears that name; what was written never is


def test_faults_stand_until_they_are_mended(folder):
    def refuse(_told):
        raise MarkupError([Fault("river", "is missing", "Draw it")])

    build = Builder()
    build.does = refuse
    with Running(folder, build) as watch:
        until(lambda: bool(watch.state.faults))
        assert watch.state.heading == "1 thing to put right in the reach folder:"
        assert [str(one) for one in watch.state.faults] == ["river: is missing. Draw it"]
        assert watch.state.number == 0
        build.does = lambda _: None
        (folder / "reach.toml").write_text("format = 1\n# mended\n")
        until(lambda: watch.state.number == 1)
        assert watch.state.faults == ()


def test_a_bug_of_ours_is_told_and_the_watch_goes_on(folder):
    def fail(_told):
        msg = "three"
        raise ZeroDivisionError(msg)

    build = Builder()
    build.does = fail
    with Running(folder, build) as watch:
        until(lambda: bool(watch.state.faults))
        assert "ZeroDivisionError" in watch.state.faults[0].found
        build.does = lambda _: None
        (folder / "reach.toml").write_text("format = 1\n# another\n")
        until(lambda: watch.state.number == 1)


def test_a_build_is_left_when_the_folder_changes_under_it(folder):
    begun = threading.Event()

    def long(told):
        begun.set()
        for _ in range(500):
            time.sleep(0.01)
            told("the flow of the river", 1, 2)

    build = Builder()
    build.does = long
    with Running(folder, build) as watch:
        assert begun.wait(5.0)
        build.does = lambda _: None
        (folder / "reach.toml").write_text("format = 1\n# while it builds\n")
        until(lambda: watch.state.number == 1, 3.0)
    assert build.ran == 2


def test_a_build_is_left_when_the_program_ends(folder):
    build = Builder()
    build.does = lambda told: [(time.sleep(0.01), told("the flow", 1, 2)) for _ in range(900)]
    with Running(folder, build) as watch:
        until(lambda: build.ran == 1)
        began = time.monotonic()
        watch.ended.set()
    assert time.monotonic() - began < 4.0
    assert watch.state.number == 0


def stuck(seconds):
    time.sleep(seconds)


def test_a_process_at_work_is_not_waited_for_when_the_program_ends(folder, monkeypatch):
    monkeypatch.setattr(watching, "LEAVE_S", 0.5)
    build = Builder()
    build.does = lambda _: warm_state().workers(1).submit(stuck, 600.0).result()
    running = Running(folder, build)
    running.thread.start()
    until(lambda: len(active_children()) == 1, 30.0)
    running.watch.end(running.thread)
    running.thread.join(20.0)
    assert not running.thread.is_alive()
    assert running.watch.state.faults == ()
    until(lambda: active_children() == [], 10.0)


def test_the_last_edits_of_a_drawing_that_is_open_elsewhere_count(folder):
    (folder / "markup.gpkg").write_bytes(b"SQLite format 3\x00" + bytes(100))
    before = snapshot(folder)
    (folder / "markup.gpkg-wal").write_bytes(b"an edit")
    assert snapshot(folder) != before


def test_a_folder_that_goes_away_ends_no_watch(folder, monkeypatch):
    build = Builder()
    with Running(folder, build) as watch:
        until(lambda: watch.state.number == 1)

        def gone(_folder):
            msg = "the stick was pulled"
            raise OSError(msg)

        with monkeypatch.context() as pulled:
            pulled.setattr(watching, "input_files", gone)
            until(lambda: build.ran == 2)
        until(lambda: build.ran == 3)


LAYER = gpd.GeoDataFrame(
    {"rank": ["A1"]}, geometry=[Point(0, 0)], crs="EPSG:32607"
)  # columns are added as promised


def test_what_is_held_is_what_was_stored_and_no_caller_can_change_it(tmp_path, monkeypatch):
    monkeypatch.setattr("reachmap.pipeline.store.as_promised", lambda _, frame: frame)
    with keep_warm() as kept:
        store = Store(tmp_path)
        made = store.keep_layers("water a", "key", {"asks": LAYER})
        made["asks"]["rank"] = "spoiled"
        field = store.keep_dataset("flow a", "key", xr.Dataset({"depth": ("x", [1.0])}))
        field["depth"] = ("x", [9.0])
        for path in tmp_path.iterdir():
            path.unlink()  # only memory can answer now
        again = Store(tmp_path)
        assert again.stored_layers("water a", "key")["asks"]["rank"].tolist() == ["A1"]
        assert again.stored_dataset("flow a", "key")["depth"].to_numpy().tolist() == [1.0]
        assert again.stored_dataset("flow a", "other key") is None
        again.drop_old()
        assert set(kept.results) == {"water-key.gpkg", "flow-key.nc"}
        Store(tmp_path).drop_old()
        assert kept.results == {}
    assert Store(tmp_path).stored_dataset("flow a", "key") is None


def test_a_program_that_builds_once_holds_nothing(tmp_path):
    assert warm_state() is None
    store = Store(tmp_path)
    store.keep_dataset("flow a", "key", xr.Dataset({"depth": ("x", [1.0])}))
    for path in tmp_path.iterdir():
        path.unlink()
    assert Store(tmp_path).stored_dataset("flow a", "key") is None
