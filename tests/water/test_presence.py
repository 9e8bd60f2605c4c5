"""Where fish pass and lie, as a list of cells on the ground's own raster."""

import numpy as np
import pytest

from reachmap.angler.interception.density import Presence
from reachmap.base.words import Wet
from reachmap.water.read_water import read_water
from reachmap.water.settings import WaterSettings
from tests.made import made_flows, made_ground
from tests.water.scenes import with_speed


@pytest.fixture(scope="module")
def read():
    """Return ground and flow of a straight river that runs off the middle of its raster, read."""
    ground = made_ground(length=500.0, half_width=15.0, deep=1.2, margin=60.0)
    flow = made_flows(ground, {30.0: -0.2})
    flow["depth"][0] = np.where(flow["wet"].values[0] == Wet.YES, 1.2, np.nan)
    flow = with_speed(ground, flow, np.full(ground["offset"].shape, 0.6))
    return ground, flow, read_water(ground, flow, WaterSettings()).presence


def test_cells_are_those_of_the_ground_s_raster(read):
    ground, flow, held = read
    wet = (flow["wet"].values[0] == Wet.YES).ravel()
    presence = Presence.of_dataset(held)
    assert presence.shape == (ground.sizes["y"], ground.sizes["x"])
    assert presence.cells.size > 0.8 * wet.sum()
    assert wet[presence.cells].all()
    assert (np.diff(presence.cells) > 0).all()


def test_all_fish_pass_every_stretch_of_the_river(read):
    ground, _, held = read
    presence = Presence.of_dataset(held)
    station = ground["station"].values.ravel()[presence.cells]
    for passes in (presence.bold, presence.shy):
        for low in range(100, 400, 50):
            here = (station >= low) & (station < low + 50)
            # a fish that swims straight up passes 25 cells of 2 m; zigzags only add
            assert passes[here].sum() >= 0.99 * 25
    assert presence.lie.min() >= 0
    assert presence.lie.max() <= 1


def test_no_fish_are_counted_in_the_first_width_below_the_inflow(read):
    ground, _, held = read
    cells = Presence.of_dataset(held).cells
    station = ground["station"].values.ravel()[cells]
    assert 30.0 <= station.min() < 36.0  # the river is 30 m wide, its cells 2 m
