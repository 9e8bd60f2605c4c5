"""Few flows are solved, all of the ladder is read, and what is shown is what was asked for."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

import reachmap
from reachmap.base.words import Wet
from reachmap.flow.nodes import ladder
from reachmap.markup import read_markup
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.store import Store
from reachmap.uncertainty import UncertaintySettings
from reachmap.water import read_water
from tests.markup.folders import TOML
from tests.markup.folders import make as reach_folder
from tests.water.test_lasting_seams import seam, seams_of

ASKED = (20.0, 30.0, 45.0)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    home = tmp_path_factory.mktemp("ladder")
    reach_folder(home, toml=TOML.replace("ladder = 0", "ladder = 9"))
    return home


@pytest.fixture(scope="module")
def maps(folder):
    return reachmap.open_reach(folder).map(cell=4.0, quick=True)


def test_a_flow_asked_for_changes_neither_what_is_solved_nor_the_other_steps(folder):
    reach = read_markup(folder)
    usual = settings_for(reach, Options())
    assert usual.flows == ASKED
    assert usual.rungs == usual.solvable == ladder(ASKED, 9)
    one = settings_for(reach, Options(flows=(26.0,)))
    assert one.flows == (26.0,)
    assert one.solvable == usual.solvable
    assert set(one.rungs) == {*usual.rungs, 26.0}


def test_a_step_of_the_same_name_gives_way_to_the_flow_asked_for(folder):
    reach = read_markup(folder)
    step = settings_for(reach, Options()).rungs[1]
    near = step * 1.00001
    one = settings_for(reach, Options(flows=(near,)))
    assert near in one.rungs
    assert step not in one.rungs
    assert step not in one.solvable


def test_beyond_the_flows_of_reach_toml_the_ladder_reaches_further(folder):
    far = settings_for(read_markup(folder), Options(flows=(60.0,)))
    assert far.solvable == ladder((*ASKED, 60.0), 9)


def test_without_a_ladder_each_flow_is_solved_by_itself(folder):
    reach = read_markup(folder)
    bare = replace(reach, plan=replace(reach.plan, ladder=0))
    told = settings_for(bare, Options(flows=(26.0,)))
    assert told.flows == told.rungs == told.solvable == (26.0,)
    assert told.nodes is None


@pytest.mark.compiled
def test_every_step_is_read_and_only_what_was_asked_for_is_shown(maps):
    read = maps.product.read
    assert maps.flows == ASKED
    assert read.flows == ladder(ASKED, 9)
    assert set(maps.layers["wetted"]["flow"]) == set(ASKED)
    assert set(read.layers["wetted"]["flow"]) == set(read.flows)
    assert sorted(set(maps.product.runs["flow"])) == list(read.flows)
    table = maps.product.runs
    assert (table["between"] == ~table["flow"].isin(ASKED)).all()
    for cards in maps.report["cards"].values():
        assert set(cards) == {"20m3s", "30m3s", "45m3s"}


@pytest.mark.compiled
def test_solved_flows_are_steps_and_a_solved_step_is_shown_as_it_was_solved(maps):
    solved = maps.mapped.solved
    flows = solved.nodes.solved.flows.tolist()
    assert set(flows) <= set(maps.product.read.flows)
    assert {20.0, 30.0, 45.0} <= set(flows)  # what is listed, while fewer than eight are solved
    k = flows.index(45.0)
    np.testing.assert_array_equal(maps.flow["depth"][2], solved.nodes.flow["depth"][k])
    assert maps.report["solved"]["flows_m3_s"] == flows
    assert len(maps.report["solved"]["left_out"]) == len(flows) - 2
    assert json.dumps(maps.report["solved"])


@pytest.mark.compiled
def test_the_same_flow_asked_for_alone_is_the_map_of_the_whole(folder, maps):
    alone = reachmap.open_reach(folder).map([27.0], cell=4.0, quick=True)
    between = maps.at(27.0)
    np.testing.assert_array_equal(alone.flow["depth"], between.flow["depth"])
    for name in ("wading", "water", "stations"):
        assert alone.layers[name].equals(between.layers[name]), name
    assert alone.product.read.flows == tuple(sorted({*maps.product.read.flows, 27.0}))


@pytest.mark.compiled
def test_a_flow_between_reads_its_own_layers_and_no_step_again(maps, monkeypatch):
    looked, stored = [], Store.stored_dataset
    before = {name: frame.copy() for name, frame in maps.product.read.layers.items()}

    def spied(store, stage, key):
        looked.append((stage, key))
        return stored(store, stage, key)

    monkeypatch.setattr(Store, "stored_dataset", spied)
    one = maps.at(26.5)
    # where fish are and what casts cover, of this flow alone
    assert sorted(stage for stage, _ in set(looked)) == ["presence", "swept"]
    read = one.product.read
    assert read.flows == tuple(sorted({*maps.product.read.flows, 26.5}))
    assert list(dict.fromkeys(read.layers["wetted"]["flow"])) == list(read.flows)
    steps = read.layers["wading"]["flow_label"] != "26.5m3s"
    columns = ["geometry", "grade", "open_until_m3_s", "cut_off_m3_s"]
    held = read.layers["wading"].loc[steps, columns].reset_index(drop=True)
    assert held.equals(before["wading"][columns])
    assert all(before[name].equals(frame) for name, frame in maps.product.read.layers.items())


@pytest.mark.compiled
def test_no_step_is_read_anew_for_a_flow_asked_for_beside_it(folder, maps):
    assert len(maps.product.read.flows) == 9
    alone = reachmap.open_reach(folder).map([26.0], cell=4.0, quick=True)
    assert alone.mapped.fresh == ("water 26m3s", "angler 26m3s")


@pytest.mark.compiled
def test_a_step_asked_for_is_the_step_as_it_was_read(maps):
    steps = [one for one in maps.product.read.flows if one not in ASKED]
    one, whole = maps.at(steps[0]), maps.product.read
    mine = whole.layers["stations"]
    mine = mine[mine["flow_label"] == one.labels[0]].reset_index(drop=True)
    columns = [name for name in mine if name != "run"]
    assert one.layers["stations"][columns].equals(mine[columns])


@pytest.mark.compiled
def test_more_water_is_never_narrower_nor_lower_from_step_to_step(maps):
    rungs = maps.mapped.solved.rungs.flow
    codes = [rungs["wet"].isel(flow=k).to_numpy() for k in range(rungs.sizes["flow"])]
    levels = [rungs["level"].isel(flow=k).to_numpy() for k in range(rungs.sizes["flow"])]
    for low, high, under, over in zip(codes[:-1], codes[1:], levels[:-1], levels[1:], strict=True):
        wet = low == Wet.YES
        assert (high[wet] == Wet.YES).mean() > 0.999
        both = wet & (high == Wet.YES)
        assert np.nanmin(over[both] - under[both]) > -0.002


@pytest.mark.compiled
def test_an_interpolated_step_is_graded_by_its_neighbours_too(folder, monkeypatch):
    from reachmap.angler import assess_flow

    seen = {}

    def spied(ground, flow, *given, neighbours=(), **more):
        seen[float(flow["flow"][0])] = [float(one["flow"][0]) for one in neighbours]
        return assess_flow(ground, flow, *given, neighbours=neighbours, **more)

    monkeypatch.setattr("reachmap.pipeline.reading.angler.assess_flow", spied)
    maps = reachmap.open_reach(folder).map(cell=4.0, quick=True, wind="upstream")
    read, solved = list(maps.product.read.flows), set(maps.report["solved"]["flows_m3_s"])
    assert set(seen) == set(read)
    for flow, beside in seen.items():
        at = read.index(flow)
        wanted = [] if flow in solved else [read[at - 1], read[at + 1]]
        assert beside == wanted
    assert any(seen.values())


@pytest.mark.compiled
def test_the_seconds_of_the_steps_add_up_to_the_build(folder, tmp_path):
    begun = time.perf_counter()
    options = Options(cell=4.0, quick=True, ensemble=False)
    built = build_reach(read_markup(folder), tmp_path / "out", options)
    whole = time.perf_counter() - begun
    told = built.report["seconds"]
    for step in ("the ground", "water and wading read", "following the runs", "writing maps"):
        assert told[step] >= 0
    assert 0.6 * whole < sum(told.values()) <= whole


@pytest.mark.compiled
def test_water_is_read_anew_when_the_ensemble_says_other_things(folder, maps, monkeypatch):
    told = {}

    def spied(ground, flow, *given, uncertainty=None, **more):
        told[float(flow["flow"][0])] = uncertainty
        return read_water(ground, flow, *given, uncertainty=uncertainty, **more)

    monkeypatch.setattr("reachmap.pipeline.reading.water.read_water", spied)
    monkeypatch.setattr(
        "reachmap.pipeline.settings.UncertaintySettings",
        partial(UncertaintySettings, members=3, seed=5),
    )
    again = reachmap.open_reach(folder).map(cell=4.0, quick=True)
    assert {name for name in again.mapped.fresh if name.startswith("water")} == {
        f"water {label}" for label in maps.product.ladder.labels
    }
    assert set(told) == set(maps.product.read.flows)
    for flow, doubt in told.items():
        assert doubt["flow"].to_numpy() == pytest.approx([flow])
        assert np.isfinite(doubt["speed_spread"].to_numpy()).any()
    solved = again.mapped.solved
    keys = {solved.nodes.uncertainty_key(solved.ensemble.keys, flow) for flow in told}
    assert len(keys) == len(told)
    between = next(flow for flow in told if flow not in solved.nodes.solved.flows)
    whole = solved.ensemble.keys
    told_by = [
        solved.nodes.uncertainty_key((*whole[:k], "other", *whole[k + 1 :]), between)
        != solved.nodes.uncertainty_key(whole, between)
        for k in range(len(whole))
    ]
    assert sum(told_by) == 2  # those of both solved flows beside it


@pytest.mark.compiled
def test_seams_are_followed_over_every_flow_read_before_anything_is_shown(maps, monkeypatch):
    seen = []

    def spied(layers, flows, _):
        seen.append(flows)
        only = seam(26.6) | {"flow_label": "26.6m3s", "code": "L7"}
        return {**layers, "seams": seams_of(only).set_crs(layers["seams"].crs, allow_override=True)}

    monkeypatch.setattr("reachmap.pipeline.following.water.seams_that_last", spied)
    one = maps.at(26.6)
    assert seen == [sorted([*maps.product.read.flows, 26.6])]
    assert one.layers["seams"]["code"].tolist() == ["L7"]
