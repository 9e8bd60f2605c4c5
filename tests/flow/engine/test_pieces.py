"""Long rivers in pieces whose seams agree, and tasks on a Dask scheduler."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.errors import BuildError
from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, foot_levels
from reachmap.flow.engine import EngineSettings, Inflow, solve_engine
from reachmap.flow.engine.pieces import CutSettings, solve_by_tasks
from reachmap.flow.engine.scheduler import on_scheduler
from reachmap.flow.notes import NoteKind, notes_of
from tests.flow.engine.made_rivers import long_river
from tests.made import made_ground

pytestmark = pytest.mark.compiled
NAMES = ("level", "depth", "east_speed", "north_speed", "wet", "outflow", "imbalance")


def short():
    return made_ground(length=160, half_width=10, deep=1.3, margin=16, turn_deg=20, wavelength=160)


def same_bytes(one, other):
    return all(one[name].to_numpy().tobytes() == other[name].to_numpy().tobytes() for name in NAMES)


def test_tasks_give_the_very_bytes_of_the_door():
    ground, settings = short(), EngineSettings()
    plain = solve_engine(ground, [6.0, 14.0], [99.3, 99.6], settings)
    tasks = solve_by_tasks(ground, [6.0, 14.0], [99.3, 99.6], settings)
    assert same_bytes(plain, tasks)
    assert notes_of(plain) == notes_of(tasks)


def test_tasks_know_of_the_stones():
    ground = short().assign_attrs(stone_size=0.13, stone_depth=0.6)
    stony, plain = (solve_engine(g, [6.0], [99.3], EngineSettings()) for g in (ground, short()))
    assert same_bytes(stony, solve_by_tasks(ground, [6.0], [99.3], EngineSettings()))
    assert float(abs(stony["depth"] - plain["depth"]).max()) > 0.01


@pytest.mark.slow
def test_pieces_of_a_long_river_agree_at_their_seams_and_with_the_whole():
    ground = long_river(2000.0)
    flows, settings = [35.0], EngineSettings()
    feet = foot_levels(ground, flows, FlowSettings())
    whole = solve_engine(ground, flows, feet, settings)
    cut = CutSettings(length_m=700.0)
    parts = solve_by_tasks(ground, flows, feet, settings, cut=cut)
    cuts = [note for note in notes_of(parts) if note.kind == NoteKind.CUT]
    assert [note.station for note in cuts] == pytest.approx([667, 1333], abs=1)
    assert all(note.flow == 35.0 and note.value("level_m") < 0.005 for note in cuts)
    level, speed = (
        (parts[name] - whole[name]).to_numpy()[np.isfinite(whole[name].to_numpy())]
        for name in ("level", "east_speed")
    )
    # within the tolerances both were solved to: 1 cm/s of the converged answer
    assert np.sqrt(np.nanmean(level**2)) < 0.005
    assert np.sqrt(np.nanmean(speed**2)) < 0.015
    wet = [answer["wet"].to_numpy() == Wet.YES for answer in (whole, parts)]
    assert (wet[0] != wet[1]).sum() < 0.005 * wet[0].sum()
    assert float(parts["outflow"][0]) == pytest.approx(35.0, rel=0.005)


@pytest.mark.slow
def test_a_tributary_is_carried_through_the_pieces():
    ground = long_river(1400.0)
    line = {name: ground[f"line_{name}"].to_numpy() for name in ("x", "y", "station")}
    at = int(np.argmin(np.abs(line["station"] - 500)))
    mouth = Inflow(share=0.3, x=float(line["x"][at]), y=float(line["y"][at]))
    settings = EngineSettings(inflows=(mouth,))
    feet = foot_levels(ground, [30.0], FlowSettings())
    whole = solve_engine(ground, [30.0], feet, settings)
    parts = solve_by_tasks(ground, [30.0], feet, settings, cut=CutSettings(length_m=700.0))
    gap = (parts["depth"] - whole["depth"]).to_numpy()
    assert np.sqrt(np.nanmean(gap**2)) < 0.005


@pytest.mark.slow
def test_a_local_dask_cluster_gives_the_bytes_of_the_serial_run():
    distributed = pytest.importorskip("dask.distributed")
    ground, settings = short(), EngineSettings()
    flows, feet = [6.0, 10.0, 14.0], [99.3, 99.45, 99.6]
    serial = solve_by_tasks(ground, flows, feet, settings)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50
    ) as cluster:
        mapper = on_scheduler(cluster.scheduler_address)
        spread = solve_by_tasks(ground, flows, feet, settings, mapper=mapper)
    assert same_bytes(serial, spread)


@pytest.mark.slow
def test_a_scheduler_that_does_not_answer_is_told_of(monkeypatch):
    pytest.importorskip("dask.distributed")
    monkeypatch.setattr("reachmap.flow.engine.scheduler.PATIENCE_S", "1s")
    with pytest.raises(BuildError, match="no Dask scheduler answers"):
        on_scheduler("tcp://127.0.0.1:9")
