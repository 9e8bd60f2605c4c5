"""Reaches side by side: in processes, or as tasks of a scheduler; what fails stops no other."""

from __future__ import annotations

import os
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from reachmap.base.errors import BuildError, Fault
from reachmap.markup.waters import Water
from reachmap.pipeline import waters as waters_module
from reachmap.pipeline.folder import FolderBuilt
from reachmap.pipeline.place import Place
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.water_tasks import WaterBuilt, completed_tasks
from reachmap.pipeline.waters import build_waters, side_by_side

NAMES = ("one", "two", "three", "four")


def made(home: Path) -> list[Water]:
    for name in NAMES:
        (home / name).mkdir()
        (home / name / "reach.toml").write_text(f"# {name}\n", encoding="utf-8")
    return [Water(home / name) for name in NAMES]


def dies_on_two(water: Water) -> WaterBuilt:
    """End the process as the system does where memory runs out."""
    if water.folder.name == "two":
        os._exit(9)
    time.sleep(0.2)
    return WaterBuilt(water)


UNDER_WAY, MOST = [0], [0]


def counted(water: Water) -> WaterBuilt:
    """Count how many of these run at once."""
    UNDER_WAY[0] += 1
    MOST[0] = max(MOST[0], UNDER_WAY[0])
    time.sleep(0.05)
    UNDER_WAY[0] -= 1
    return WaterBuilt(water)


@contextmanager
def quiet():
    yield lambda *_: None


@pytest.mark.slow
def test_a_process_that_is_killed_costs_its_own_reach_only(tmp_path):
    ended = {one.water.folder.name: one for one in side_by_side(made(tmp_path), dies_on_two, 2)}
    assert set(ended) == set(NAMES)
    assert {name for name, one in ended.items() if one.error is not None} == {"two"}


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("dask.distributed")
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=2,
        processes=False,
        dashboard_address=None,
    ) as started:
        yield started.scheduler_address


@pytest.mark.slow
def test_each_reach_is_a_task_and_one_that_fails_stops_no_other(tmp_path, cluster, monkeypatch):
    asked: list[tuple[str, str, int]] = []

    def fake(folder, *_, scheduler, workers, **__):
        asked.append((folder.name, scheduler, workers))
        assert threading.current_thread() is not threading.main_thread()  # a worker's
        if folder.name == "two":
            raise BuildError([Fault("two", "invented", "none")])
        return FolderBuilt({"flows": [1]}, Place(folder / "written", ""), fresh=True)

    monkeypatch.setattr(waters_module, "build_folder", fake)
    told = []
    built = build_waters(
        made(tmp_path), Options(), progress=quiet, done=told.append, scheduler=cluster
    )
    assert sorted(asked) == sorted((name, "", 1) for name in NAMES)  # its flows in the task itself
    assert [one.water.folder.name for one in built] == list(NAMES)
    assert [one.error is None for one in built] == [True, False, True, True]
    assert len(told) == len(NAMES)


@pytest.mark.slow
def test_a_worker_builds_one_reach_at_a_time(tmp_path, cluster):
    MOST[0] = 0
    assert len(list(completed_tasks(made(tmp_path), counted, cluster))) == len(NAMES)
    assert MOST == [1]  # both workers are threads of this process here, so they share the lock


@pytest.mark.slow
def test_workers_that_do_not_see_the_folders_get_the_flows_instead(tmp_path, cluster, monkeypatch):
    waters = made(tmp_path)
    monkeypatch.setattr("reachmap.pipeline.water_tasks._has_folders", lambda _: False)
    assert completed_tasks(waters, WaterBuilt, cluster) is None


@pytest.mark.slow
def test_with_fewer_reaches_than_workers_the_flows_are_the_tasks(tmp_path, cluster):
    waters = made(tmp_path)
    assert completed_tasks(waters[:1], WaterBuilt, cluster) is None
    assert completed_tasks(waters[:2], WaterBuilt, cluster) is not None


def test_a_folder_that_differs_there_is_not_the_same(tmp_path):
    from reachmap.pipeline.water_tasks import _digest, _has_folders

    folder = made(tmp_path)[0].folder
    here = {str(folder): _digest(folder)}
    assert _has_folders(here)
    (folder / "reach.toml").write_text("# other\n", encoding="utf-8")
    assert not _has_folders(here)
    (folder / "reach.toml").unlink()
    assert not _has_folders(here)
