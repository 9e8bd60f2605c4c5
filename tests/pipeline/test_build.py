"""The whole way from a reach folder to what is opened, on a small invented reach."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from importlib.resources import files
from itertools import pairwise

import geopandas as gpd
import jsonschema
import numpy as np
import pytest
import rasterio

import reachmap
from reachmap.base.errors import MarkupError
from reachmap.base.units import flow_label
from reachmap.base.words import UnitSystem
from reachmap.markup import read_markup
from reachmap.outputs import write
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.stamp import Options, current_report
from reachmap.text.water import unknown_tailouts
from tests.markup.folders import make as reach_folder
from tests.windows import windows_hazards

pytestmark = pytest.mark.compiled

QUICK = Options(quick=True, cell=2.0)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = reach_folder(tmp_path_factory.mktemp("reach"))
    out = folder / "written"
    return folder, out, build_reach(read_markup(folder), out, QUICK)


def test_everything_promised_is_there(made):
    _, out, built = made
    assert built.page.exists()
    labels = [flow["label"] for flow in built.report["flows"]]
    for label in labels:
        assert (out / "maps" / f"{label}.html").exists()
        assert (out / "sheets" / f"{label}.html").exists()
        assert (out / "gpx" / f"{label}.gpx").exists()
        for name in ("depth", "speed", "level"):
            with rasterio.open(out / "gis" / f"{name}_{label}.tif") as raster:
                assert raster.count == 1
    assert set(gpd.list_layers(out / "gis" / "results.gpkg")["name"]) >= {"water", "wading", "runs"}


def test_the_report_keeps_to_its_schema_and_the_schema_bites(made):
    _, out, _ = made
    text = files("reachmap.outputs").joinpath("report.schema.json").read_text(encoding="utf-8")
    judge = jsonschema.Draft202012Validator(json.loads(text))
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    assert [(list(e.absolute_path), e.message) for e in judge.iter_errors(report)] == []
    for spoiled in (
        {**report, "flows": [{**report["flows"][0], "wetted_m2": -1.0}]},
        {**report, "undocumented": 1},
        {key: value for key, value in report.items() if key != "warnings"},
    ):
        assert not judge.is_valid(spoiled)


def test_no_file_of_a_build_has_a_name_that_windows_refuses_or_mixes_up(made):
    folder, out, _ = made
    assert list((out / "cache").iterdir())
    assert windows_hazards(folder) == []


def test_the_report_tells_the_balance_of_every_flow(made):
    _, out, built = made
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    assert report == json.loads(json.dumps(built.report))
    for flow in report["flows"]:
        assert flow["inflow_m3_s"] == pytest.approx(flow["flow_m3_s"])
        assert flow["outflow_m3_s"] == pytest.approx(flow["inflow_m3_s"], rel=0.01)
        assert flow["worst_section_error"] < 0.01
    areas = [flow["wetted_m2"] for flow in report["flows"]]
    assert areas == sorted(areas)


def test_where_no_tailout_can_be_told_report_and_page_say_so(tmp_path):
    folder = reach_folder(tmp_path)
    for tile in folder.glob("dem*.tif"):
        tile.unlink()
    drawn = replace(read_markup(folder), soundings=())
    built = build_reach(drawn, folder / "written", QUICK)
    shares = built.report["tailouts"]["told_share"]
    assert list(shares) == [flow["label"] for flow in built.report["flows"]]
    (line,) = unknown_tailouts(shares)
    assert line in built.report["warnings"]
    assert line.split(":")[0] in built.page.read_text(encoding="utf-8")


def test_the_report_says_what_the_level_at_the_foot_follows_from(made):
    _, _, built = made
    assert built.report["foot"]["words"] in built.report["made_from"]


def test_more_flow_is_never_shallower(made):
    _, out, built = made
    depths = []
    for flow in built.report["flows"]:
        with rasterio.open(out / "gis" / f"depth_{flow['label']}.tif") as raster:
            depths.append(raster.read(1, masked=True).filled(0.0))
    for lower, higher in pairwise(depths):
        assert (higher - lower).min() > -0.02


def test_a_second_build_knows_that_nothing_changed(made):
    folder, out, built = made
    report = current_report(folder, out, QUICK)
    assert report is not None
    assert report["stamp"] == built.report["stamp"]


@pytest.mark.parametrize("option", [Options(), Options(quick=True, cell=4.0)])
def test_other_options_are_another_build(made, option):
    folder, out, _ = made
    assert current_report(folder, out, option) is None


def test_a_file_that_was_changed_is_not_trusted(made):
    folder, out, _ = made
    page = out / "gpx" / "all.gpx"
    kept = page.read_bytes()
    page.write_bytes(kept + b" ")
    try:
        assert current_report(folder, out, QUICK) is None
    finally:
        page.write_bytes(kept)
    assert current_report(folder, out, QUICK) is not None


def test_a_changed_flow_list_recomputes_only_the_new_flow(made):
    folder, out, built = made
    told = read_markup(folder)
    flows = (*told.plan.flows[:-1], told.plan.flows[-1] * 1.1)
    again = build_reach(told, out, Options(quick=True, cell=2.0, flows=flows))
    new = again.report["flows"][-1]["label"]
    assert "ground" not in again.fresh
    stages = {"flow", f"flow {new}", "doubt", f"doubt {new}", f"water {new}", f"angler {new}"}
    assert set(again.fresh) <= stages
    assert f"flow {new}" in again.fresh
    gone = built.report["flows"][-1]["label"]
    assert not (out / "maps" / f"{gone}.html").exists()
    back = build_reach(told, out, QUICK)
    assert back.fresh == ()


def test_the_same_build_elsewhere_gives_the_same_files(made, tmp_path):
    folder, _, built = made
    again = build_reach(read_markup(folder), tmp_path / "elsewhere", QUICK)
    same = {
        name
        for name, digest in again.report["files"].items()
        if built.report["files"].get(name) == digest
    }
    other = set(again.report["files"]) - same - {"gis/results.gpkg"}  # it holds its own time
    for name in other:
        texts = [
            re.sub(r"<time>[^<]*</time>", "", (home / name).read_text(encoding="utf-8"))
            for home in (folder / "written", tmp_path / "elsewhere")
        ]
        assert name.startswith("gpx/")
        assert texts[0] == texts[1]


def test_a_writer_that_fails_leaves_the_earlier_build_whole(made, monkeypatch):
    folder, out, _ = made

    def fails(_, target, *_chosen):
        (target / "half.txt").write_text("half")
        message = "a writer failed"
        raise OSError(message)

    before = sorted(path.relative_to(out).as_posix() for path in out.rglob("*"))
    monkeypatch.setattr(write, "WRITERS", (*write.WRITERS, ("more", fails)))
    with pytest.raises(OSError, match="a writer failed"):
        build_reach(read_markup(folder), out, QUICK)
    assert sorted(path.relative_to(out).as_posix() for path in out.rglob("*")) == before
    assert current_report(folder, out, QUICK) is not None


def test_what_others_put_into_the_written_folder_stays(made):
    folder, out, _ = made
    mine = out / "maps" / "my-notes.txt"
    mine.write_text("keep me")
    build_reach(read_markup(folder), out, QUICK)
    assert mine.read_text() == "keep me"
    mine.unlink()


def test_a_faulty_folder_writes_nothing(tmp_path):
    folder = reach_folder(tmp_path)
    toml = folder / "reach.toml"
    toml.write_text(toml.read_text().replace("slope = 0.002", "slope = -5"))
    with pytest.raises(MarkupError):
        reachmap.open_reach(folder).map(quick=True)
    assert not (folder / "written").exists()


def test_flows_beyond_the_rating_are_refused_before_anything_is_written(tmp_path):
    folder = reach_folder(tmp_path)
    with pytest.raises(MarkupError, match="outside the gauge's rating"):
        reachmap.open_reach(folder).map([9000.0], quick=True)
    assert not (folder / "written").exists()


def test_the_python_door_takes_flows_in_si(made, tmp_path):
    folder, _, _ = made
    result = reachmap.open_reach(folder).map([25.0], quick=True).write(tmp_path / "one")
    assert [flow["flow_m3_s"] for flow in result.report["flows"]] == [25.0]
    assert np.isfinite(result.report["flows"][0]["mean_depth_m"])


def test_a_change_of_units_works_nothing_out_anew_and_says_everything_in_them(made):
    folder, out, built = made
    reach = read_markup(folder)
    other = UnitSystem.US if reach.plan.units is UnitSystem.METRIC else UnitSystem.METRIC
    switched = build_reach(replace(reach, plan=replace(reach.plan, units=other)), out, QUICK)
    assert built.fresh
    assert switched.fresh == ()
    before, after = built.report, switched.report
    labels = [flow_label(flow["flow_m3_s"], other) for flow in after["flows"]]
    assert [flow["label"] for flow in after["flows"]] == labels
    assert [flow["flow_m3_s"] for flow in before["flows"]] == [
        flow["flow_m3_s"] for flow in after["flows"]
    ]
    for old, new in zip(before["runs_by_flow"], after["runs_by_flow"], strict=True):
        assert {**old, "flow_label": ""} == {**new, "flow_label": ""}
    results = out / "gis" / "results.gpkg"
    assert set(gpd.read_file(results, layer="wading")["flow_label"]) <= set(labels)
    unit = "ft" if other is UnitSystem.US else "m"
    notes = gpd.read_file(results, layer="asks")["note"]
    assert notes.str.contains(rf"out by [\d.]+ {unit} either way").any()
    build_reach(reach, out, QUICK)
