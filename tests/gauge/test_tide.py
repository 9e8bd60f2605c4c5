"""The tide table: rule of twelfths, turns, unknown hours, rows that make no sense."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reachmap.base.words import UnitSystem
from reachmap.gauge.series import HOUR
from reachmap.gauge.tide import read_tide

WEST = ZoneInfo("America/Los_Angeles")
TEXT = """# heights of an invented harbour
time,height_ft
2031-01-10T00:00,1.0
2031-01-10T06:00,7.0
2031-01-10T12:00,0.5
2031-01-12T00:00,7.0
"""
FIRST = np.datetime64("2031-01-10T08:00", "s")  # midnight there


def tide():
    found, faults = read_tide("tide.csv", TEXT, UnitSystem.US, WEST)
    assert not faults
    assert found is not None
    return found


def test_the_tide_runs_by_the_rule_of_twelfths():
    # one, two, three, three, two and one twelfths of the range in six hours
    heights = tide().height_at(FIRST + np.arange(7) * HOUR) / 0.3048
    steps = np.diff(heights) / 6.0 * 12
    assert steps == pytest.approx([1, 2, 3, 3, 2, 1], abs=0.25)


def test_rise_and_fall_are_told_and_beyond_the_table_nothing_is():
    rising = tide().rising(FIRST + np.array([-1, 3, 9, 20]) * HOUR)
    assert np.isnan(rising[[0, 3]]).all()  # before it, and in a gap of a day and a half
    assert rising[1:3].tolist() == [1, 0]
    turns = tide().turns(FIRST, FIRST + 24 * HOUR)
    assert turns == [(FIRST + 6 * HOUR, True), (FIRST + 12 * HOUR, False)]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("time,level\n2031-01-10,1\n", "no columns of time and height"),
        ("time,height_ft\n2031-01-10T00:00,high\n2031-01-10T09:00,99999\n", "row 2"),
        ("time,height_ft\n2031-01-10T00:00,1\n", "fewer than two"),
    ],
)
def test_a_table_that_makes_no_sense_is_told(text, word):
    found, faults = read_tide("tide.csv", text, UnitSystem.US, WEST)
    assert found is None
    assert word in "; ".join(str(fault) for fault in faults)


def test_all_wrong_rows_are_told_at_once():
    _, faults = read_tide(
        "tide.csv", "time,height_ft\nx,1\n2031-01-10T00:00,y\n", UnitSystem.US, WEST
    )
    assert len(faults) == 2
