from dataclasses import replace

import numpy as np
import pytest

from reachmap.outputs.webmap.runs import RunAtFlow, runs_by_flow
from reachmap.text.run_table import shape_words


def test_the_table_is_taken_row_by_row(product):
    table = product.runs.set_index(["run", "flow_label"])
    for run in runs_by_flow(product):
        for label, state in zip(product.labels, run.at, strict=True):
            row = table.loc[(run.name, label)].to_dict()
            assert state.in_shape is bool(row["in_shape"])
            assert state.why == shape_words(row)
            assert state.number("score") == row["score"]
            assert len(state.lines) == 3


def test_each_run_at_a_flow_knows_its_best_water(product):
    water = product.layers["water"].set_index(["flow_label", "code"])
    seen = 0
    for run in runs_by_flow(product):
        for label, state in zip(product.labels, run.at, strict=True):
            if state.row["code"]:
                assert (
                    state.water["confidence"] == water.loc[(label, state.row["code"]), "confidence"]
                )
                seen += 1
            else:
                assert state.water is None
    assert seen


def test_runs_stand_from_the_head_down(product):
    order = [run.name for run in runs_by_flow(product)]
    frame = product.layers["runs"].sort_values("station_m")
    assert order == list(frame["run"])


def test_what_is_not_known_is_unknown_and_not_a_no(product):
    table = product.runs.copy()
    table.loc[0, ["in_shape", "why", "depth_m"]] = [False, "unknown", np.nan]
    run, label = table.loc[0, ["run", "flow_label"]]
    found = {one.name: one for one in runs_by_flow(replace(product, runs=table))}
    state = found[run].at[list(product.labels).index(label)]
    assert state.in_shape is None
    assert state.number("depth_m") is None
    assert (state.letter, state.heard) == ("?", "not known")


@pytest.mark.parametrize(
    ("row", "letter", "heard"),
    [
        ({"in_shape": True, "prime": False}, "S", "fishes: seam water"),
        ({"in_shape": True, "prime": True}, "S", "prime: seam water"),
        ({"in_shape": False, "why": "deep"}, "·", "leave it: too deep"),
        (
            {"in_shape": False, "why": "thin", "why_too": "slow"},
            "·",
            "leave it: too thin and too slow",
        ),
    ],
)
def test_every_cell_of_the_table_has_words_besides_its_sign(row, letter, heard):
    state = RunAtFlow({"kind": "seam", "why": None, "why_too": None} | row)
    assert (state.letter, state.heard) == (letter, heard)


def test_numbers_that_are_missing_stay_missing(product):
    layers = dict(product.layers)
    layers["runs"] = layers["runs"].assign(best_flow_m3_s=np.nan)
    made = replace(product, layers=layers, runs=product.runs.assign(minutes=np.nan))
    run = runs_by_flow(made)[0]
    assert run.best_flow is None
    assert run.at[0].number("minutes") is None
