"""Deep water in a canyon: sections are tabled as high as it stands, and no higher than known."""

import numpy as np
import pytest
from scipy.optimize import brentq

from reachmap.base.errors import BuildError
from reachmap.flow import FlowSettings, foot_levels, solve
from reachmap.flow.sections import TABLE_HEIGHT, sections_of
from reachmap.flow.table_height import high_sections
from tests.flow.made_channels import prismatic
from tests.flow.uniform_flow import normal_depth

SLOPE, ROUGHNESS, CELL = 0.002, 0.035, 2.0


def canyon(wall=30.0):
    """Return a canyon 24 m wide between walls that rise 4 in 1, and its section."""
    half = np.abs(np.arange(-20, 21) * CELL)
    bed = np.clip(4 * (half - 12), 0, wall)
    return prismatic(bed, slope=SLOPE, roughness=ROUGHNESS), bed


def divided_depth(bed, flow):
    """Return the depth at which strips, each as wide water, carry a flow together [m]."""

    def missing(depth):
        strips = np.maximum(depth - bed, 0) ** (5 / 3) * CELL
        return np.sqrt(SLOPE) / ROUGHNESS * strips.sum() - flow

    return brentq(missing, 0.1, 60.0)


def with_walls(bed, flow):
    """Return the normal depth with the walls' friction too [m]."""
    offset = np.arange(bed.size) * CELL
    return normal_depth(offset, bed, roughness=ROUGHNESS, slope=SLOPE, flow=flow)


def flow_of(depth):
    """Return about the flow that fills the canyon to a depth: a wide section's [m3/s]."""
    return 24 * depth ** (5 / 3) * np.sqrt(SLOPE) / ROUGHNESS


@pytest.mark.parametrize("method", ["profile", "engine"])
def test_water_twenty_metres_deep_in_a_canyon_is_mapped(method):
    ground, _ = canyon()
    flow = 1.25 * flow_of(20.0)
    result = solve(ground, [flow], FlowSettings(method=method))
    deepest = float(result["depth"].max())
    assert 17 < deepest < 26
    assert float(abs(result["imbalance"]).max()) < 0.03
    assert (result["wet"].to_numpy()[0, 20] == 1).all()  # the middle is wet all along


def test_the_level_at_the_foot_of_a_canyon_is_normal_depth():
    ground, bed = canyon()
    for flow in (flow_of(15.0), 1.25 * flow_of(20.0)):
        (level,) = foot_levels(ground, [flow], FlowSettings())
        depth = level - (50.0 - SLOPE * 400)
        assert depth > TABLE_HEIGHT
        assert depth == pytest.approx(divided_depth(bed, flow), rel=0.03)
        assert depth < with_walls(bed, flow)  # which no cell of a raster sees


def test_a_pool_of_twenty_metres_at_the_foot_is_mapped():
    ground, _ = canyon()
    pool = 20.0 * np.clip((ground["station"] - 200) / 60, 0, 1)
    ground["bed"] = ground["bed"] - pool * (np.abs(ground["offset"]) <= 12)
    ground.attrs |= {"low_flow": 20.0, "low_foot_level": 50.0 - SLOPE * 400 + 0.4}
    result = solve(ground, [20.0], FlowSettings())
    deep = result["depth"].isel(flow=0).where(ground["station"] > 300)
    assert float(deep.max()) == pytest.approx(20.4, abs=0.3)


def test_ordinary_water_is_tabled_as_ever():
    ground, _ = canyon()
    same, sections = high_sections(ground, [flow_of(2.0)], FlowSettings())
    assert same is ground
    assert sections.tables.level.shape[1] == 96
    high, taller = high_sections(ground, [1.25 * flow_of(20.0)], FlowSettings())
    assert high.attrs["table_height"] == pytest.approx(2 * TABLE_HEIGHT)
    low, up = sections.tables, taller.tables
    assert up.level.shape[1] == 136  # 96 times the root of 2: rows as close together
    at = low.bottom[50] + 3.0
    wanted = np.interp(at, low.level[50], low.conveyance[50])
    assert np.interp(at, up.level[50], up.conveyance[50]) == pytest.approx(wanted, rel=0.005)
    assert sections_of(high, FlowSettings()).tables.level[0, -1] == up.level[0, -1]


def test_a_flow_that_the_known_ground_cannot_hold_is_refused():
    ground, _ = canyon(wall=4.0)
    with pytest.raises(BuildError, match=r"cannot carry|higher than the ground"):
        solve(ground, [3 * flow_of(20.0)], FlowSettings())
