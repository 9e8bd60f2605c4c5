"""Where fish are on the made river of planted structures: there, before plain rims of the banks."""

import numpy as np
import pytest

from reachmap.angler.interception.density import Presence, fish_time
from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.base.words_runs import StructureKind
from reachmap.water.read_water import read_water
from reachmap.water.settings import WaterSettings
from tests.water import structure_river as river

pytestmark = pytest.mark.compiled

RULES = InterceptionSettings()
HOLDING = (StructureKind.BUCKET, StructureKind.EDDY_LINE, StructureKind.BOULDER_LEE)
"""Structures that hold fish at every flow."""
DROWNING = (StructureKind.SLOT, StructureKind.LEDGE_POOL)
"""Those through which the main current runs at more than 1.4 m/s at the upper two flows."""


@pytest.fixture(scope="module", params=range(len(river.FLOWS)))
def time(request):
    """Return the share of the fish's time in each cell at one flow, of the middle reading."""
    flow = river.flows().isel(flow=[request.param])
    presence = Presence.of_dataset(read_water(river.ground(), flow, WaterSettings()).presence)
    passing, holding = fish_time(presence, RULES.members[0], RULES)
    raster = np.zeros(presence.shape[0] * presence.shape[1])
    raster[presence.cells] = passing + holding
    depth = flow["depth"].to_numpy()[0]
    return raster.reshape(presence.shape), depth, request.param


def mean_in(raster, depth, kind):
    """Return the mean time in the cells of a planted structure."""
    return raster[river.planted()[kind] & np.isfinite(depth)].mean()


def rim_of(raster, depth):
    """Return the mean time on plain bed less than half a metre deep."""
    return raster[river.plain_bed() & (depth < 0.5)].mean()


@pytest.mark.parametrize("kind", HOLDING)
def test_fish_spend_more_time_in_a_structure_than_on_a_plain_rim(time, kind):
    raster, depth, _ = time
    assert mean_in(raster, depth, kind) > rim_of(raster, depth)


@pytest.mark.parametrize("kind", DROWNING)
def test_a_slot_and_a_ledge_s_pool_hold_fish_until_the_current_runs_through_them(time, kind):
    raster, depth, number = time
    if number < 2:
        assert mean_in(raster, depth, kind) > 2 * rim_of(raster, depth)
    if number == 3 and kind is StructureKind.SLOT:
        assert mean_in(raster, depth, kind) < rim_of(raster, depth)


def test_a_mid_river_bucket_is_not_lost_to_the_corridor(time):
    raster, depth, _ = time
    plain = river.plain_bed() & np.isfinite(depth)
    assert mean_in(raster, depth, StructureKind.BUCKET) > 1.5 * raster[plain].mean()
