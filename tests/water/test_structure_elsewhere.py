"""Structure on rivers of other sizes than the one on which its rules were set."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.water.structure_settings import (
    LEAST_SHARE,
    USUAL_WIDTH_M,
    BedFormSettings,
    StructureSettings,
    width_share,
)
from scripts.measure_structure import found_masks, shares
from tests.water import planted

pytestmark = pytest.mark.compiled

NAMES = [
    "creek",
    pytest.param("small", marks=pytest.mark.slow),
    pytest.param("wide", marks=pytest.mark.slow),
]
DRY = {("creek", "boulder lee"): 3}
"""Of these so many of four flows are deep enough for a lee at all."""


@pytest.fixture(scope="module", params=NAMES)
def found(request):
    """Return a river and the shares found at each of its flows."""
    river = planted.RIVERS[request.param]
    ground, water = planted.solved(request.param)
    told = []
    for number in range(len(river.flows)):
        one = water.isel(flow=[number])
        wet = np.isfinite(one["depth"].to_numpy()[0])
        told.append(shares(found_masks(ground, one), river.planted(), river.plain_bed(), wet))
    return river, told


def test_half_of_each_is_found_at_three_of_four_flows(found):
    river, told = found
    few = {
        name: [round(one[name], 2) for one in told]
        for name in river.planted()
        if sum(one[name] >= 0.5 for one in told) < 3
    }
    assert not few


def test_hardly_any_plain_bed_is_taken_for_structure(found):
    assert max(one["plain bed"] for one in found[1]) < 0.02


def test_a_creek_without_structure_has_hardly_any():
    ground, water = planted.solved("creek", plain=True)
    inner = planted.CREEK.places()[0]
    inner = (inner > 20) & (inner < planted.CREEK.length - 20)
    for number in range(water.sizes["flow"]):
        one = water.isel(flow=[number])
        wet = np.isfinite(one["depth"].to_numpy()[0])
        every = np.any(list(found_masks(ground, one).values()), axis=0)
        assert every[wet & inner].mean() < 0.02


def test_forms_shrink_with_a_narrow_river_and_not_with_a_wide_one():
    assert width_share(USUAL_WIDTH_M) == width_share(300.0) == 1.0
    assert width_share(0.6 * USUAL_WIDTH_M) == pytest.approx(0.6)
    assert width_share(1.0) == LEAST_SHARE
    assert width_share(float("nan")) == 1.0
    scales, rules = BedFormSettings(), StructureSettings()
    assert scales.on_river(60.0, 2.0) == scales
    assert rules.on_river(60.0) == rules
    half = scales.on_river(0.5 * USUAL_WIDTH_M, 1.0)
    assert half.far_m == pytest.approx(0.5 * scales.far_m)
    assert half.near_m == pytest.approx(2.0)
    assert scales.on_river(0.5 * USUAL_WIDTH_M, 2.0).near_m == scales.near_m  # two cells at least
    assert half.stone_m == scales.stone_m  # a boulder is a boulder on any river
    assert rules.on_river(0.5 * USUAL_WIDTH_M).stone_low_m == rules.stone_low_m
