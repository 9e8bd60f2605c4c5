"""The library as it is imported: a reach, its maps at solved flows and between, what they say."""

from __future__ import annotations

import logging
import math
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import cf_xarray  # noqa: F401 - adds the accessor
import numpy as np
import pytest
import rioxarray  # noqa: F401 - adds the accessor

import reachmap
from reachmap.angler import assess_flow
from reachmap.base.schema import BY_NAME, LAYERS
from reachmap.base.words import Wet
from reachmap.flow.notes import FlowNote, NoteKind, notes_of, with_notes
from reachmap.logbook.model import Entry
from reachmap.logbook.store import FILE
from reachmap.pipeline.fitted import read_fitted
from tests.logbook.made import keep_all
from tests.markup.folders import TOML, make

ROOT = Path(__file__).resolve().parents[2]
HOSTILE = "<script>alert('x')</script>{{ 7 * 7 }}"


@pytest.fixture(scope="module")
def reach(tmp_path_factory):
    return reachmap.open_reach(make(tmp_path_factory.mktemp("reach")))


@pytest.fixture(scope="module")
def maps(reach):
    return reach.map(cell=4.0, quick=True)


def test_the_public_names_complete_and_the_import_is_light():
    assert set(reachmap.__all__) <= set(dir(reachmap))
    for name in reachmap.__all__:
        assert getattr(reachmap, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        reachmap.nothing  # noqa: B018
    code = (
        "import sys, reachmap; assert 'open_reach' in dir(reachmap)\n"
        "heavy = {'numpy', 'pandas', 'xarray', 'shapely', 'typer'} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr


def test_a_reach_says_what_was_given(reach):
    assert reach.name == "Invented reach"
    assert reach.flows == (20.0, 30.0, 45.0)
    assert reach.kit.rods[0].name == "thirteen"
    assert reach.gauge is not None
    assert reach.crs == "EPSG:32607"
    assert "Invented reach" in repr(reach)
    assert reach.drawing.main.line.length == pytest.approx(600.0, abs=1.0)


def test_the_log_is_a_table_in_si(reach):
    assert reach.log.empty
    assert {"when", "run", "flow", "clarity_m"} <= set(reach.log.columns)
    when = datetime(2026, 1, 5, 8, tzinfo=UTC)
    keep_all(reach.folder / FILE, [Entry(when=when, run="Ledge", flow=31.0, touches=2)])
    try:
        row = reach.log.iloc[0]
        assert (row["run"], row["flow"], row["touches"]) == ("Ledge", 31.0, 2)
        assert row["when"] == when
        assert math.isnan(row["clarity_m"])
    finally:
        (reach.folder / FILE).unlink()


def test_a_folder_with_faults_is_refused(tmp_path):
    folder = make(tmp_path, toml=TOML.replace("slope = 0.002", "slope = -5"))
    with pytest.raises(reachmap.MarkupError, match="slope"):
        reachmap.open_reach(folder)


@pytest.mark.compiled
def test_a_map_holds_rasters_layers_and_runs_in_si(reach, maps):
    assert maps.flows == reach.flows
    assert maps.flow.sizes["flow"] == 3
    for one in (maps.flow, maps.ground, maps.uncertainty):
        assert one.rio.crs.to_epsg() == 32607
        assert one.cf["X"].name == "x"
        assert one.attrs["preview"] == 1
    wet = maps.flow["wet"].to_numpy() == Wet.YES
    assert wet.any()
    assert np.isfinite(maps.flow["depth"].to_numpy()[wet]).all()
    for layer in LAYERS:
        names = [column.name for column in layer.columns]
        assert list(maps.layers[layer.name].columns) == [*names, "geometry"]
        assert str(maps.layers[layer.name].crs) == reach.crs
    assert {column.name for column in BY_NAME["runs_by_flow"].columns} <= set(maps.runs.columns)
    assert maps.runs["flow"].isin(maps.flows).all()
    assert not maps.interpolated
    assert "preview" in repr(maps)


@pytest.mark.compiled
def test_at_a_solved_flow_it_is_the_solved_map(maps):
    one = maps.at(30.0)
    assert one.flows == (30.0,)
    assert one.between is None
    assert not one.interpolated
    np.testing.assert_array_equal(one.flow["depth"][0], maps.flow["depth"][1])
    np.testing.assert_array_equal(
        one.uncertainty["depth_spread"][0], maps.uncertainty["depth_spread"][1]
    )
    water = maps.layers["water"]
    assert len(one.layers["water"]) == (water["flow_label"] == "30m3s").sum()
    assert set(one.runs["flow"]) == {30.0}
    assert [flow["label"] for flow in one.report["flows"]] == ["30m3s"]


@pytest.mark.compiled
def test_between_solved_flows_everything_is_read_from_the_field_between(maps):
    one = maps.at(36.0)
    assert one.interpolated
    assert one.between == (30.0, 45.0)
    assert one.flows == (36.0,)
    assert "interpolated" in repr(one)
    told = "Read between the solved flows 30 m³/s and 45 m³/s"
    said = "speeds are interpolated between the solved flows 30 m³/s and 45 m³/s."
    assert f"At 36 m³/s: depths and {said}" in one.report["warnings"]
    assert told in one._repr_html_()
    assert told not in maps.at(30.0)._repr_html_()
    depths = [float(maps.at(q).flow["depth"].mean()) for q in (30.0, 36.0, 45.0)]
    assert depths == sorted(depths)
    areas = [float(maps.at(q).layers["wetted"]["area_m2"].sum()) for q in (30.0, 36.0, 45.0)]
    assert areas == sorted(areas)
    for name in ("wetted", "edge_left", "edge_right", "water", "wading", "stations"):
        assert set(one.layers[name]["flow_label"]) <= {"36m3s"}
    assert len(one.layers["wading"])
    assert {tuple(cards) for cards in one.report["cards"].values()} == {("36m3s",)}
    # a run between keeps the names of the solved flows
    assert set(one.runs["run"]) == set(maps.runs["run"])
    # where the ensemble is less sure of a neighbour it is as little sure between
    pair = maps.uncertainty["depth_spread"].to_numpy()[1:]
    spread = one.uncertainty["depth_spread"].to_numpy()[0]
    np.testing.assert_array_equal(spread, np.fmax(*pair))
    agreed = one.uncertainty["agreement"].to_numpy()[0]
    np.testing.assert_array_equal(agreed, np.fmin(*maps.uncertainty["agreement"].to_numpy()[1:]))


@pytest.mark.compiled
def test_a_map_of_one_flow_has_the_notes_of_that_flow_alone(maps):
    notes = [FlowNote(NoteKind.NARROW, 30.0), FlowNote(NoteKind.TRIBUTARY_NOT_MODELLED)]
    nodes = maps.mapped.solved.nodes
    fields = with_notes(nodes.flow, notes)
    nodes = replace(nodes, solved=replace(nodes.solved, fields=fields))
    solved = replace(maps.mapped.solved, nodes=nodes)
    product = replace(maps.product, flows=with_notes(maps.product.flows, notes))
    noted = reachmap.ReachMap(replace(maps.mapped, solved=solved, product=product), product)
    kinds = [[note.kind for note in notes_of(noted.at(q).flow)] for q in (20.0, 30.0, 36.0)]
    assert kinds[0] == [NoteKind.TRIBUTARY_NOT_MODELLED]
    assert set(kinds[1]) == {NoteKind.NARROW, NoteKind.TRIBUTARY_NOT_MODELLED}
    assert set(kinds[2]) == {NoteKind.INTERPOLATED, NoteKind.TRIBUTARY_NOT_MODELLED}


@pytest.mark.compiled
def test_between_solved_flows_wading_is_held_to_both_of_them(maps, monkeypatch):
    seen = []

    def spied(*given, neighbours=(), **more):
        seen.append([float(one["flow"][0]) for one in neighbours])
        return assess_flow(*given, neighbours=neighbours, **more)

    monkeypatch.setattr("reachmap.pipeline.reading.angler.assess_flow", spied)
    maps.at(37.0)
    assert seen == [[30.0, 45.0]]  # the solved flows are stored, the one between is not


@pytest.mark.compiled
def test_a_map_between_leaves_the_solved_ones_as_they_were(maps):
    before = {name: len(frame) for name, frame in maps.layers.items()}
    maps.at(25.0)
    assert {name: len(frame) for name, frame in maps.layers.items()} == before
    assert maps.flows == (20.0, 30.0, 45.0)


@pytest.mark.compiled
def test_outside_the_mapped_flows_no_map_is_given(maps):
    for flow in (19.0, 46.0, math.nan, -1.0):
        with pytest.raises(reachmap.MarkupError, match="outside the mapped flows, 20 m3/s to 45"):
            maps.at(flow)


@pytest.mark.compiled
def test_a_flow_next_to_a_solved_one_is_read_exactly(maps):
    one = maps.at(30.0004)
    assert one.flows == (30.0004,)
    assert one.between == (30.0, 45.0)
    assert set(one.runs["flow"]) == {30.0004}


@pytest.mark.compiled
def test_a_map_of_one_flow_is_not_written_as_a_build(maps):
    for one in (maps.at(30.0), maps.at(36.0)):
        assert "stamp" not in one.report
        with pytest.raises(ValueError, match="map of all flows"):
            one.write()


@pytest.mark.compiled
def test_what_is_written_is_what_the_command_writes(reach, maps, tmp_path):
    steps = []
    built = maps.write(tmp_path / "out", progress=lambda *step: steps.append(step))
    assert built.page == tmp_path / "out" / "maps" / "index.html"
    assert built.page.exists()
    assert [flow["flow_m3_s"] for flow in built.report["flows"]] == [20.0, 30.0, 45.0]
    assert steps[-1][1] == steps[-1][2]
    again = reach.map(cell=4.0, quick=True)
    assert again.mapped.fresh == ()


@pytest.mark.compiled
def test_stages_are_logged_with_their_time_and_progress_ends_at_its_total(reach, caplog):
    steps = []
    with caplog.at_level(logging.INFO, logger="reachmap"):
        reach.map([25.0], cell=4.0, quick=True, ensemble=False, progress=lambda *s: steps.append(s))
    told = [record.getMessage() for record in caplog.records if record.name == "reachmap"]
    for stage in ("the ground", "the flow of the river", "reading the water", "following the runs"):
        assert any(line.startswith(f"{stage}: ") and line.endswith(" s") for line in told), stage
    assert steps[-1][0] == "done"
    assert steps[-1][1] == steps[-1][2]
    done = [step[1] for step in steps]
    assert done == sorted(done)


@pytest.mark.compiled
def test_without_an_ensemble_there_is_no_uncertainty(reach):
    maps = reach.map([25.0, 30.0], cell=4.0, quick=True, ensemble=False)
    assert maps.uncertainty is None
    assert maps.at(27.0).uncertainty is None


@pytest.mark.compiled
def test_a_fit_is_kept_only_when_asked_for(tmp_path):
    reach = reachmap.open_reach(make(tmp_path / "reach"))
    found = reach.fit()
    assert read_fitted(reach.folder) is None
    kept = reach.fit(keep=True)
    assert kept.found == found.found
    assert read_fitted(reach.folder).found.roughness == pytest.approx(kept.found.roughness)


@pytest.mark.compiled
def test_places_worth_a_note_are_listed_without_a_build(reach):
    places = reach.suggest()
    assert list(places["rank"]) == sorted(places["rank"])
    assert {"kind", "spread_m", "gain"} <= set(places.columns)
    assert str(places.crs) == reach.crs


@pytest.mark.compiled
def test_notebook_pictures_escape_what_the_angler_wrote_and_ask_no_network(tmp_path):
    toml = TOML.replace('"Invented reach"', f'"{HOSTILE}"')
    reach = reachmap.open_reach(make(tmp_path, toml=toml))
    maps = reach.map([30.0], cell=4.0, quick=True, ensemble=False)
    for page in (reach._repr_html_(), maps._repr_html_()):
        assert "<script" not in page
        assert "&lt;script&gt;" in page
        assert "<svg" in page
        assert "<path" in page
        assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "People drown wading" in maps._repr_html_()
    assert "worked out in the quick way" in maps._repr_html_()
