"""Rows by key are the rows that a choice by condition would give, in the same order."""

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.grouped import grouped, grouped_by, known, present, rows_of

words = st.sampled_from(["a", "b", "c"])


@given(st.lists(st.tuples(words, words, st.floats(0, 9))))
def test_rows_under_a_key_are_those_chosen_by_condition(cells):
    frame = pd.DataFrame(cells, columns=["run", "flow_label", "depth_m"])
    found = grouped_by(frame, ("run", "flow_label"), ("depth_m",))
    for run in "abc":
        for label in "abc":
            mine = frame[(frame["run"] == run) & (frame["flow_label"] == label)]
            assert found.of(run, label)["depth_m"].tolist() == mine["depth_m"].tolist()


def test_a_row_may_stand_under_several_keys_or_none():
    frame = pd.DataFrame({"number": [1, 2, 3]})
    found = grouped(frame, [[("x",), ("y",)], [], [("x",)]], ("number",))
    assert found.of("x")["number"].tolist() == [1, 3]
    assert found.of("y")["number"].tolist() == [1]
    assert len(found.of("z")) == 0


def test_missing_words_are_none_and_unknown_numbers_stay_unknown():
    cast = pd.Categorical([None, "overhead"], categories=["overhead"])
    frame = pd.DataFrame({"cast": cast, "room_m": [np.nan, 3.0], "natural_hand": [True, False]})
    rows = rows_of(frame, ("cast", "room_m", "natural_hand"))
    assert rows["cast"].tolist() == [None, "overhead"]
    assert present(rows["cast"]).tolist() == [False, True]
    assert known(rows["room_m"]).tolist() == [3.0]
    assert rows["natural_hand"].dtype == bool
    assert not len(present(rows["cast"][:0]))
