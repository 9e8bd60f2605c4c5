"""The hazards of a run: each once, the nearer way first, what was left out for it summed."""

import math

import numpy as np
import pandas as pd
import pytest

from reachmap.angler.near_runs import NEAR, left_out_by_kind, looked_everywhere, near_of
from reachmap.base.grouped import rows_of
from reachmap.base.words import HazardWay


def rows(*cells):
    """Return rows of number, kind, way, distance and places left out."""
    table = pd.DataFrame(cells, columns=["number", "kind", "way", "distance_m", "left_out"])
    return rows_of(table.assign(note="", toward="down"), NEAR)


def test_each_hazard_stands_once_by_its_first_way_and_its_least_distance():
    found = near_of(
        rows(
            (1, "ledge", HazardWay.STRAIGHT, 3.0, 1),
            (2, "strainer", HazardWay.CURRENT, 40.0, 2),
            (2, "strainer", HazardWay.CURRENT, 25.0, 3),
            (1, "ledge", HazardWay.WALK, 60.0, 0),
            (3, "undercut", HazardWay.STRAIGHT, 1.0, 0),
        )
    )
    assert [one["number"] for one in found] == [2, 1, 3]
    assert [one["hazard_way"] for one in found] == ["current", "walk", "straight"]
    assert [one["hazard_distance_m"] for one in found] == [25.0, 60.0, 1.0]
    assert [one["left_out"] for one in found] == [5, 1, 0]
    assert left_out_by_kind(found) == {"ledge": 1, "strainer": 5}


def test_a_distance_nobody_knows_comes_last_and_no_rows_give_none():
    far = near_of(
        rows((1, "ledge", HazardWay.WALK, math.nan, 0), (2, "ledge", HazardWay.WALK, 9.0, 0))
    )
    assert [one["number"] for one in far] == [2, 1]
    assert near_of(rows()) == []


@pytest.mark.parametrize(
    ("looked", "codes", "fine"),
    [
        ([30.0, 30.0], ["E1", "E2"], True),
        ([30.0, np.nan], ["E1", "E2"], False),
        ([30.0], ["E1", "E2"], False),
        ([], ["E1"], False),
    ],
)
def test_it_was_looked_everywhere_if_from_each_place_and_each_piece_has_one(looked, codes, fine):
    stands = pd.DataFrame({"looked_m": np.array(looked), "water": codes[: len(looked)]})
    water = rows_of(pd.DataFrame({"code": codes}), ("code",))
    assert looked_everywhere(water, rows_of(stands, ("looked_m", "water"))) is fine
