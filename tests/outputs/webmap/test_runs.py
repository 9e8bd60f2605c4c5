from dataclasses import replace

import numpy as np
import pytest

from reachmap.outputs.webmap.runs import RunAtFlow, runs_by_flow
from tests.outputs.made_product import made_product


def test_the_reports_own_table_is_taken(product):
    table = {(e["run"], e["flow_label"]): e for e in product.report["runs_by_flow"]}
    for run in runs_by_flow(product):
        for label, state in zip(product.labels, run.at, strict=True):
            entry = table[run.name, label]
            assert state.in_shape is entry["in_shape"]
            assert (state.why, state.instead) == (entry["why"], entry["instead"])
            assert state.score == entry["score"]
            assert len(state.lines) == 3


@pytest.mark.slow
def test_without_a_table_it_is_worked_out_from_the_layers():
    bare = made_product(tables=False)
    runs = runs_by_flow(bare)
    shapes = dict(
        zip(bare.layers["runs"]["run"], bare.layers["runs"]["flows_in_shape"], strict=True)
    )
    for run in runs:
        for label, state in zip(bare.labels, run.at, strict=True):
            assert state.in_shape is (label in shapes[run.name].split(", "))
            water = bare.layers["water"]
            mine = water[(water["run"] == run.name) & (water["flow_label"] == label)]
            if len(mine):
                assert state.score == mine["score"].max()
                assert state.why
            else:
                assert state.score is None
    assert any(not state.in_shape for run in runs for state in run.at)


def test_runs_stand_from_the_head_down(product):
    order = [run.name for run in runs_by_flow(product)]
    frame = product.layers["runs"].sort_values("station_m")
    assert order == list(frame["run"])


def test_what_the_table_leaves_out_is_unknown_and_not_a_no(product):
    entry = dict(product.report["runs_by_flow"][0])
    entry |= {"in_shape": None, "score": float("nan"), "depth_m": None, "why": None}
    report = dict(product.report) | {"runs_by_flow": [entry]}
    run = runs_by_flow(replace(product, report=report))[0]
    state = run.at[list(product.labels).index(entry["flow_label"])]
    assert state.in_shape is None
    assert state.score is None
    assert state.depth_m is None
    assert state.letter == "?"
    assert state.heard == "not worked out"


def test_every_cell_of_the_table_has_words_besides_its_sign():
    assert RunAtFlow(True, kind="seam").letter == "S"
    assert RunAtFlow(True, kind="seam").heard == "fishes: seam water"
    assert RunAtFlow(False, why="too fast").heard == "leave it: too fast"


def test_numbers_that_are_missing_stay_missing(product):
    layers = dict(product.layers)
    layers["runs"] = layers["runs"].assign(minutes=np.nan, best_flow=np.nan)
    run = runs_by_flow(replace(product, layers=layers))[0]
    assert run.minutes is None
    assert run.best_flow is None
