"""What a map cannot say follows from what was given, and so does what would mend it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reachmap.text.honest import CHEAPEST, Given, cannot_say, cheapest, given_of
from tests.ground.scenes import drawing, straight_trapezoid, with_soundings

RICH = Given(True, True, 40, 1, 2, 90.0, 10, True, 0)
POOR = Given(False, False, 5, 0, 0, float("inf"), 0, False, 4)
RIVER = straight_trapezoid()


def test_rich_evidence_leaves_nothing_to_say():
    assert cannot_say(RICH) == []
    assert cheapest(RICH) == []


def test_five_soundings_without_a_dem_are_no_support():
    told = " ".join(cannot_say(POOR))
    assert "(5 depths)" in told
    assert "agree is no evidence" in told
    assert "nowhere to stand" in told
    better = cheapest(POOR)
    assert len(better) == CHEAPEST
    assert "DEM" in better[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"tracks": 0, "depths": 5}, "no depth was measured there"),
        ({"dem_flow": False}, "rest on a guess"),
        ({"rating": False}, "What a gauge height means"),
        ({"dem": False, "bare_banks": 3}, "how 3 of the banks rise"),
        ({"dem": False, "levels_apart_m": 400.0}, "one guess for all of it"),
        ({"dem": False, "higher_edges": 0}, "seen at one flow only"),
    ],
)
def test_each_lack_has_its_word_and_only_its_own(change, words):
    told = cannot_say(replace(RICH, **change))
    assert sum(words in one for one in told) == 1
    assert len(told) == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"dem": False}, "bare-earth DEM"),
        ({"tracks": 0}, "One drift"),
        ({"tracks": 0, "depths": 3}, "Twenty depths"),
        ({"dem_flow": False}, "a minute"),
        ({"speeds": 0}, "sticks"),
    ],
)
def test_each_lack_has_its_mend(change, words):
    assert any(words in one for one in cheapest(replace(RICH, **change)))


def test_a_drawing_is_counted_as_it_is():
    bare = drawing(RIVER, 20.0, jitter=0.0, edge_flows=(20.0, 60.0))
    given = given_of(with_soundings(bare, RIVER, 60.0, 6))
    assert (given.dem, given.depths, given.rating) == (False, 6, False)
    assert given.higher_edges == 2  # the left and the right edge at 60
    assert given.bare_banks == 2
    assert given.levels_apart_m == float("inf")
