"""What changed between two builds, from their reports and depths."""

from __future__ import annotations

import math

import numpy as np
import pytest

from reachmap.planner.changes import build_change, common_flow, moved_share


def report(*, runs, flows=("a", "b", "c"), nearest=None, spread=None):
    """A report as far as builds are compared: runs as (name, in shape, rank)."""
    rows = [
        {"run": run, "flow_label": label, "in_shape": shape, "rank_low": rank, "rank_high": rank}
        for run, shape, rank in runs
        for label in flows
    ]
    made = {"flows": [{"label": label, "words": f"{label} cfs"} for label in flows]}
    made |= {"runs_by_flow": rows, "gauge": {"nearest_label": nearest}}
    return made | ({"ensemble": {"spread": dict.fromkeys(flows, spread)}} if spread else {})


BEFORE = [("Bench", True, 1), ("Ford", False, 0), ("Elbow", True, 2)]
NOW = [("Bench", False, 0), ("Ford", True, 2), ("Elbow", True, 1)]


def test_runs_that_came_and_went_and_the_first_are_named():
    spreads = {"depth_m": 0.2, "edge_m": 2.0}, {"depth_m": 0.1, "edge_m": None}
    old, new = (report(runs=r, spread=s) for r, s in zip((BEFORE, NOW), spreads, strict=True))
    found = build_change(old, new, None)
    assert (found.gained, found.lost, found.first) == (("Ford",), ("Bench",), ("Bench", "Elbow"))
    assert found.depth_spread_m == (0.2, 0.1)
    assert found.edge_spread_m[0] == 2.0
    assert math.isnan(found.edge_spread_m[1])
    assert math.isnan(found.depth_moved)


def test_builds_are_compared_at_the_gauges_flow_else_at_the_middle_one_of_both():
    old, new = report(runs=BEFORE), report(runs=NOW, nearest="c")
    assert common_flow(old, new) == "c"
    assert common_flow(old, report(runs=NOW)) == "b"
    assert common_flow(report(runs=BEFORE, flows=("a",)), new) == "a"
    assert common_flow({}, new) == ""
    assert build_change({}, new, None) is None


def test_the_share_moved_is_of_the_water_of_either_build():
    dry = math.nan
    before = np.array([[1.0, 1.0, dry, dry], [0.5, 0.5, 0.5, 0.05]])
    now = np.array([[1.05, 1.2, 0.4, dry], [0.5, 0.5, dry, dry]])
    # seven cells are wet in either; one is deeper by a hand, one has come, one has gone
    assert moved_share(before, now) == pytest.approx(3 / 7)
    assert math.isnan(moved_share(before, now[:1]))
    assert math.isnan(moved_share(np.full((2, 2), dry), np.full((2, 2), dry)))
