"""Where fish are on the made river of planted structures: there, before plain rims of the banks."""

import numpy as np
import pytest

from reachmap.angler.interception.density import Presence, fish_time
from reachmap.angler.interception.runs import Fish, Places, odds_of_runs
from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.angler.interception.swept import Swept
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
def found(request):
    """Return where fish pass and lie at one flow, the depth, and the flow's number."""
    flow = river.flows().isel(flow=[request.param])
    presence = Presence.of_dataset(read_water(river.ground(), flow, WaterSettings()).presence)
    return presence, flow["depth"].to_numpy()[0], request.param


@pytest.fixture(scope="module")
def time(found):
    """Return the share of the fish's time in each cell at one flow, of the middle reading."""
    presence, depth, number = found
    passing, holding = fish_time(presence, RULES.members[0], RULES)
    raster = np.zeros(presence.shape[0] * presence.shape[1])
    raster[presence.cells] = passing + holding
    return raster.reshape(presence.shape), depth, number


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


CELLS = 16
"""Cells that are covered of each, so that none leads by its size."""


def test_a_run_of_planted_structure_scores_before_a_run_of_plain_rim(found):
    # both are covered alike, cell by cell, from one place each, in the same time
    presence, depth, _ = found
    wet = np.isfinite(depth)
    rim = river.plain_bed() & (depth < 0.5)
    masks = {str(kind): river.planted()[kind] & wet for kind in HOLDING} | {"rim": rim}
    cells = [_spread(np.flatnonzero(mask.ravel())) for mask in masks.values()]
    place = np.repeat(np.arange(len(cells)), [len(one) for one in cells])
    seconds = np.full(place.size, 3.0) * np.repeat(
        [CELLS / len(one) for one in cells], [len(one) for one in cells]
    )
    swept = Swept(place.astype(np.int32), np.concatenate(cells).astype(np.int32), seconds, 4)
    runs = {
        name: Places(np.array([k], np.int32), np.ones(1, np.int32), np.zeros(1), np.full(1, 10.0))
        for k, name in enumerate(masks)
    }
    odds = odds_of_runs(runs, swept, Fish.of(presence, RULES), RULES)
    best = float(odds["rim"].rate.max())  # by whatever reading of the fish
    assert all(float(odds[str(kind)].rate.mean()) > best for kind in HOLDING)


def _spread(cells):
    """Return up to so many of the cells, evenly spread."""
    return cells[np.unique(np.linspace(0, len(cells) - 1, CELLS).astype(int))]
