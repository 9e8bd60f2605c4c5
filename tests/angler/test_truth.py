"""The sample river: its tight bank against the kit."""

from pathlib import Path

import pytest

from reachmap import flow, ground, water
from reachmap.angler import AnglerSettings, assess
from reachmap.angler.casts import FULL_CASTS
from reachmap.angler.dloop import cast_reach
from reachmap.angler.settings import LineSettings
from reachmap.base.fields import with_labels
from reachmap.base.schema import table_frame
from reachmap.base.units import FOOT_M
from reachmap.base.words import UnitSystem
from reachmap.markup import read_markup
from reachmap.text.written import written_layer

SAMPLE = Path(__file__).resolve().parents[2] / "data_samples" / "madeup_river"
PROFILE = flow.FlowSettings(method="profile")


@pytest.fixture(scope="module")
def reach():
    return read_markup(SAMPLE)


@pytest.fixture(scope="module")
def mapped(reach):
    settings = ground.GroundSettings()
    grid = ground.grid_of(reach, settings.cell, settings.margin_m)
    dem = ground.read_dem(reach.dems, grid, reach.plan.dem)
    return ground.build_ground(reach, dem, settings)


@pytest.fixture(scope="module")
def ours(reach, mapped):
    return with_labels(flow.solve(mapped, reach.plan.flows[::3], PROFILE), reach.plan.units)


@pytest.mark.slow
@pytest.mark.compiled
def test_the_tight_bank_forbids_the_long_belly_and_leaves_what_fits_in_feet(reach, mapped, ours):
    one = ours.isel(flow=[1])
    pieces = water.read_water(mapped, one, water.WaterSettings()).layers["water"]
    settings = AnglerSettings(line=LineSettings(full=False))
    stations = assess(mapped, one, pieces, reach, settings)["stations"]
    belly = max(reach.plan.kit.heads, key=lambda head: head.length_m)
    tight = stations[stations["head_max_m"].between(15 * FOOT_M, 55 * FOOT_M)]
    tight = tight[tight["cast"].notna() & tight["room_m"].notna()]
    assert len(tight) >= 5
    assert (tight["head"] != belly.name).all()
    rods = [rod.length_m for rod in reach.plan.kit.rods]
    noted = written_layer("stations", tight, table_frame("runs_by_flow", []), UnitSystem.US)
    assert noted["note"].str.contains("ft clear behind").all()
    wading = tight[tight["depth_m"] > 0]  # on dry ground the layer does not say how high one stands
    assert len(wading)
    for row in wading.itertuples():
        least = min(
            float(cast_reach(cast, rod, belly.length_m, row.depth_m, settings.room))
            for cast in FULL_CASTS
            for rod in rods
        )
        assert least * (1 + settings.room.doubt) > row.room_m
