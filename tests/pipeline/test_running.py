"""Where the flows are run, what is said first, and a tributary from the drawing to the water."""

from __future__ import annotations

import sys
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from typer.testing import CliRunner

from reachmap.base.cache import stored_dataset
from reachmap.base.errors import BuildError, Fault, FlowFault, MarkupError
from reachmap.base.words import UnitSystem
from reachmap.cli.app import app
from reachmap.flow import FlowSettings
from reachmap.flow.notes import NoteKind
from reachmap.markup import read_markup
from reachmap.pipeline import solving
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.running import COMPILING, _is_stale, mapper_for, must_compile
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.solving import _labelled
from reachmap.pipeline.stamp import Options
from tests.flow.noted import the_note
from tests.markup.folders import line, make, rows
from tests.markup.spoil import drawn

ENGINE = FlowSettings(method="engine")
SMALL = Options(flows=(25.0,), cell=4.0, ensemble=False)


def with_creek(given, **more):
    creek = {"geometry": line((330, 90), (320, 5)), "name": "Creek", "part": "side", "share": 20.0}
    return [*given, creek | more]


def test_without_an_address_this_machine_works():
    assert mapper_for("", ENGINE) is None


def test_a_preview_is_not_spread():
    with pytest.raises(BuildError, match="--quick"):
        mapper_for("tcp://127.0.0.1:9", FlowSettings())


def test_a_missing_extra_is_told_with_its_mend(monkeypatch):
    monkeypatch.setitem(sys.modules, "dask.distributed", None)
    with pytest.raises(BuildError, match=r"pip install \"reachmap\[dask\]\""):
        mapper_for("tcp://127.0.0.1:9", ENGINE)


def test_an_address_nobody_answers_at_ends_with_2_before_any_work(tmp_path, monkeypatch):
    pytest.importorskip("dask.distributed")
    monkeypatch.setattr("reachmap.flow.engine.scheduler.PATIENCE_S", "1s")
    folder = make(tmp_path / "reach")
    told = CliRunner().invoke(app, ["build", str(folder), "--scheduler", "tcp://127.0.0.1:9"])
    assert isinstance(told.exception, BuildError)
    assert "no Dask scheduler answers at 'tcp://127.0.0.1:9'" in str(told.exception)
    assert not (folder / "written" / "cache").exists()


def test_kernels_are_to_be_compiled_where_their_files_are_missing_or_older(tmp_path):
    source = tmp_path / "_kernels.py"
    source.write_text("")
    kernel = SimpleNamespace(
        stats=SimpleNamespace(cache_path=str(tmp_path)), py_func=SimpleNamespace(__name__="sweep")
    )
    assert _is_stale(kernel, source)
    (tmp_path / "_kernels.sweep-1.nbi").write_text("")
    assert not _is_stale(kernel, source)
    assert not _is_stale(lambda: None, source)


@pytest.mark.compiled
@pytest.mark.parametrize("first", [True, False])
def test_the_first_run_says_that_it_compiles(tmp_path, monkeypatch, first):
    monkeypatch.setattr(solving, "must_compile", lambda _: first)
    steps = []
    folder = make(tmp_path / "reach")
    options = Options(flows=(25.0,), cell=4.0, quick=True, ensemble=False)
    build_reach(
        read_markup(folder),
        folder / "written",
        options,
        progress=lambda step, *_: steps.append(step),
    )
    assert (COMPILING in steps) is first


@pytest.mark.compiled
def test_after_a_run_nothing_is_left_to_compile(tmp_path):
    folder = make(tmp_path / "reach")
    build_reach(read_markup(folder), folder / "written", SMALL)
    assert not must_compile(ENGINE)


@pytest.mark.compiled
def test_a_tributary_goes_from_the_drawing_to_the_water(tmp_path):
    folder = tmp_path / "reach"
    drawn(river=with_creek)(folder)
    reach = read_markup(folder)
    asked = settings_for(reach, SMALL).flow.tributaries
    assert [(one.name, one.share) for one in asked] == [("Creek", pytest.approx(0.2))]
    build_reach(reach, folder / "written", SMALL)
    (stored,) = (folder / "written" / "cache").glob("flow-*.nc")
    water = stored_dataset(stored)
    assert water is not None
    note = the_note(water, NoteKind.TRIBUTARY)
    assert (note.name, note.value("share")) == ("Creek", pytest.approx(0.2))
    # the river runs east: what passes above and below the mouth
    unit = (water["depth"] * water["east_speed"]).isel(flow=0).to_numpy()
    through = np.nansum(unit, axis=0) * water.attrs["cell"]
    along = water["x"].to_numpy() - 500_000.0
    above, below = (through[(along > a) & (along < b)] for a, b in ((60, 180), (420, 560)))
    assert above.mean() == pytest.approx(20.0, rel=0.03)
    assert below.mean() == pytest.approx(25.0, rel=0.03)


@pytest.mark.slow
@pytest.mark.compiled
def test_a_build_over_a_local_cluster_stores_the_bytes_of_one_without(tmp_path):
    distributed = pytest.importorskip("dask.distributed")
    options = Options(flows=(20.0, 30.0), cell=4.0, ensemble=False)
    folder = make(tmp_path / "reach")
    build_reach(read_markup(folder), tmp_path / "here", options)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50
    ) as cluster:
        address = cluster.scheduler_address
        build_reach(read_markup(folder), tmp_path / "there", options, scheduler=address)
    here, there = (sorted((tmp_path / w / "cache").glob("flow-*.nc")) for w in ("here", "there"))
    assert [file.name for file in here] == [file.name for file in there]
    for one, other in zip(here, there, strict=True):
        with xr.open_dataset(one) as a, xr.open_dataset(other) as b:
            for name in a.data_vars:
                assert a[name].to_numpy().tobytes() == b[name].to_numpy().tobytes()


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({"geometry": line((320, 5), (330, 90))}, "drawn upstream"),
        ({"geometry": line((330, 600), (320, 300))}, "ends 300 m from the main line"),
        ({"share": 97.0}, "97"),
        ({"share": -1.0}, "-1"),
    ],
)
def test_a_tributary_drawn_wrong_is_told_of(tmp_path, change, found):
    drawn(river=lambda given: with_creek(given, **change))(tmp_path / "reach")
    with pytest.raises(MarkupError, match=found):
        read_markup(tmp_path / "reach")


def test_shares_past_all_and_on_the_main_line_are_told_of(tmp_path):
    def spoilt(given):
        given[0]["share"] = 10.0
        return with_creek(with_creek(given, share=60.0), share=50.0)

    drawn(river=spoilt)(tmp_path / "reach")
    with pytest.raises(MarkupError) as told:
        read_markup(tmp_path / "reach")
    assert "the main line has a share" in str(told.value)
    assert "bring 110 % of the flow together" in str(told.value)
    assert len(rows()["river"]) == 2


def test_a_flow_that_cannot_be_solved_is_named_in_the_folders_units():
    faults = [
        FlowFault("68 m3/s", "no steady flow", "Check it", 68.0),
        Fault("bed", "hole", "Fill"),
    ]
    named = _labelled(BuildError(faults), UnitSystem.US)
    assert [fault.where for fault in named.faults] == ["2401cfs", "bed"]
