"""What the page docs/ground.md claims, measured anew on the sample against its true bed."""

from __future__ import annotations

import pytest

from reachmap.flow import FlowSettings
from reachmap.ground import build_ground
from scripts.ground_cases import SETTINGS, sample_case
from scripts.measure_ground import Truth, measured

pytestmark = [pytest.mark.slow, pytest.mark.compiled]


@pytest.fixture(scope="module")
def figures():
    case, run = sample_case(), FlowSettings()
    truth = Truth.of(case, list(case.flows[1:]), run)
    ground = build_ground(case.markup, case.dem, SETTINGS)
    made = ("DEM + its own 25 soundings", case.markup, ground, None)
    return measured(case, truth, made, run).figures


def test_the_edge_is_mapped_within_a_metre_and_a_half(figures):
    assert all(one.edge_m < 1.5 for one in figures)


def test_soft_water_overlaps_the_truth_by_the_quick_profile(figures):
    middle, high = figures
    assert middle.overlap > 0.70
    assert high.overlap > 0.60


def test_of_the_water_called_good_or_fair_four_of_five_pieces_are_there(figures):
    # good alone is three pieces: too few for a share
    hit, number = (
        sum(one.hits[word][place] for one in figures for word in ("good", "fair"))
        for place in (0, 1)
    )
    assert number >= 6
    assert hit / number >= 0.8


def test_low_is_said_of_what_holds_less_often(figures):
    rates = {}
    for word in ("good", "low"):
        hit, number = (sum(one.hits[word][place] for one in figures) for place in (0, 1))
        rates[word] = hit / number
    assert rates["good"] > rates["low"]
