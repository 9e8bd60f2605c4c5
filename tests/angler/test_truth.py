"""The sample's wading grades against the true river that was made with it."""

from pathlib import Path

import numpy as np
import pytest

from reachmap import flow, ground
from reachmap.angler.settings import WadingSettings
from reachmap.angler.view import view_of
from reachmap.angler.wading import CAREFUL, EASY, NO, grade_cells, grade_water
from reachmap.markup import open_reach
from tests.truth import true_ground

SAMPLE = Path(__file__).resolve().parents[2] / "data_samples" / "madeup_river"
WORST = 0.005
"""Largest share of water graded easy or careful that truly exceeds the limit."""


@pytest.mark.slow
@pytest.mark.compiled
def test_hardly_any_water_called_wadeable_truly_exceeds_the_limit():
    # both rivers run by the same flow method, so that what differs is what the angler drew
    reach = open_reach(SAMPLE)
    settings = ground.GroundSettings()
    frame = ground.frame_of(reach, settings.cell, settings.margin_m)
    dem = ground.read_dem(reach.dems, frame, reach.plan.dem)
    mapped = ground.build_ground(reach, dem, settings)
    flows = reach.plan.flows[::3]
    profile = flow.FlowSettings(method="profile")
    ours, truth = flow.solve(mapped, flows, profile), flow.solve(true_ground(2), flows, profile)
    truth = truth.reindex(x=ours["x"], y=ours["y"], method="nearest", tolerance=0.5)
    called, wrong = 0, 0
    for index in range(len(flows)):
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
