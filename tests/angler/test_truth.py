"""The sample river: its wading against the true river, its tight bank against the kit."""

from pathlib import Path

import numpy as np
import pytest

from reachmap import flow, ground, water
from reachmap.angler import AnglerSettings, assess
from reachmap.angler.casts import FULL_CASTS
from reachmap.angler.dloop import cast_reach
from reachmap.angler.settings import LineSettings, WadingSettings
from reachmap.angler.view import view_of
from reachmap.angler.wading import CAREFUL, EASY, NO, grade_cells, grade_water
from reachmap.base.units import FOOT_M
from reachmap.markup import open_reach
from tests.truth import true_ground

SAMPLE = Path(__file__).resolve().parents[2] / "data_samples" / "madeup_river"
PROFILE = flow.FlowSettings(method="profile")
WORST = 0.005
"""Largest share of water graded easy or careful that truly exceeds the limit."""


@pytest.fixture(scope="module")
def reach():
    return open_reach(SAMPLE)


@pytest.fixture(scope="module")
def mapped(reach):
    settings = ground.GroundSettings()
    frame = ground.frame_of(reach, settings.cell, settings.margin_m)
    dem = ground.read_dem(reach.dems, frame, reach.plan.dem)
    return ground.build_ground(reach, dem, settings)


@pytest.fixture(scope="module")
def ours(reach, mapped):
    return flow.solve(mapped, reach.plan.flows[::3], PROFILE)


@pytest.mark.slow
@pytest.mark.compiled
def test_hardly_any_water_called_wadeable_truly_exceeds_the_limit(reach, mapped, ours):
    # both rivers run by the same flow method, so that what differs is what the angler drew
    truth = flow.solve(true_ground(2), reach.plan.flows[::3], PROFILE)
    truth = truth.reindex(x=ours["x"], y=ours["y"], method="nearest", tolerance=0.5)
    called, wrong = 0, 0
    for index in range(ours.sizes["flow"]):
        view = view_of(mapped, ours.isel(flow=index))
        wading = grade_water(view, reach.hazards, reach.plan.kit.angler, WadingSettings())
        true = truth.isel(flow=index)
        depth = np.nan_to_num(true["depth"].to_numpy())
        speed = np.nan_to_num(np.hypot(true["east_speed"], true["north_speed"]).to_numpy())
        beyond = grade_cells(depth, speed, wading.limit, 0.6) == NO
        waded = (wading.grade == EASY) | (wading.grade == CAREFUL)
        called, wrong = called + int(waded.sum()), wrong + int((waded & beyond).sum())
        assert (waded & beyond).sum() <= max(WORST * waded.sum(), 2)
    assert called > 1000
    assert wrong / called < WORST


@pytest.mark.slow
@pytest.mark.compiled
def test_the_tight_bank_forbids_the_long_belly_and_leaves_what_fits_in_feet(reach, mapped, ours):
    one = ours.isel(flow=[1])
    pieces = water.read_water(mapped, one, water.WaterSettings()).layers["water"]
    settings = AnglerSettings(line=LineSettings(full=False))
    stations = assess(mapped, one, pieces, reach, settings)["stations"]
    belly = max(reach.plan.kit.heads, key=lambda head: head.length_m)
    tight = stations[stations["head_max_m"].between(15 * FOOT_M, 55 * FOOT_M)]
    tight = tight[(tight["cast"] != "") & tight["room_m"].notna()]
    assert len(tight) >= 5
    assert (tight["head"] != belly.name).all()
    rods = [rod.length_m for rod in reach.plan.kit.rods]
    assert tight["note"].str.contains("ft clear behind").all()
    wading = tight[tight["depth_m"] > 0]  # on dry ground the layer does not say how high one stands
    assert len(wading)
    for row in wading.itertuples():
        least = min(
            float(cast_reach(cast, rod, belly.length_m, row.depth_m, settings.room))
            for cast in FULL_CASTS
            for rod in rods
        )
        assert least * (1 + settings.room.doubt) > row.room_m
