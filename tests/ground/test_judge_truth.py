"""The judge of ground and wading: the grid of a made ground keeps the true levels."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.flow import FlowSettings, solve
from reachmap.ground import build_ground
from scripts.ground_cases import SETTINGS, sample_case, true_ground
from tests.truth import true_ground as native_ground

PROFILE = FlowSettings(method="profile")


@pytest.mark.slow
@pytest.mark.compiled
def test_the_true_river_on_the_maps_frame_is_not_dammed_at_its_foot():
    case = sample_case()
    made = build_ground(replace(case.markup, soundings=()), case.dem, SETTINGS)
    framed, native = true_ground(case, made), native_ground(2)
    here, there = (solve(one, case.flows, PROFILE)["level"] for one in (framed, native))
    there = there.reindex(x=here["x"], y=here["y"], method="nearest", tolerance=0.5)
    station = framed["station"].to_numpy()
    low = (station > 2200) & (station < 2600)
    for number in range(len(case.flows)):
        apart = (here.isel(flow=number) - there.isel(flow=number)).to_numpy()[low]
        assert abs(np.nanmedian(apart)) < 0.02
        assert np.nanpercentile(np.abs(apart), 95) < 0.06
