"""Rows that name water belong to its run at their own flow."""

import pandas as pd

from reachmap.water.by_run import named_by_run, water_by_run

WATER = pd.DataFrame(
    {
        "run": ["upper", "upper", "lower", "upper", ""],
        "flow_label": ["20", "20", "20", "40", "40"],
        "code": ["E1", "S1", "E2", "E2", "E1"],
    }
)
STANDS = pd.DataFrame(
    {
        "water": ["E2", "S1", "E1", "E2", "E9", "E1"],
        "flow_label": ["20", "20", "20", "40", "40", "40"],
        "code": list("abcdef"),
    }
)


def test_the_same_code_at_another_flow_is_another_piece():
    found = named_by_run(STANDS, WATER, ("code",))
    assert found.of("upper", "20")["code"].tolist() == ["b", "c"]
    assert found.of("lower", "20")["code"].tolist() == ["a"]
    assert found.of("upper", "40")["code"].tolist() == ["d"]
    assert found.of("", "40")["code"].tolist() == ["f"]
    assert len(found.of("lower", "40")) == 0


def test_pieces_of_a_run_keep_their_order():
    found = water_by_run(WATER, ("code",))
    assert found.of("upper", "20")["code"].tolist() == ["E1", "S1"]
    assert len(found.of("nowhere", "20")) == 0
