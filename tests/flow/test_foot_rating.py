"""The level at the foot by a gauge's rating: where it may set it, where normal depth stays."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.flow import FlowSettings, foot_levels, solve
from reachmap.flow.foot_rating import FootHow, Refused, foot_rule
from reachmap.flow.sections import sections_of
from reachmap.flow.settings import FootRating
from tests.flow.made_channels import prismatic

SLOPE = 0.002
BASE = FlowSettings()


def river(**attrs):
    """Return a straight river 24 m wide, heights of a DEM."""
    ground = prismatic(np.r_[4.0, 2.0, np.zeros(12), 2.0, 4.0], slope=SLOPE)
    ground.attrs |= {"vertical": "dem"} | attrs
    return ground


def normal(flow, ground=None):
    """Return the level at the foot without a rating [m]."""
    return float(foot_levels(ground or river(), [flow], BASE)[0])


def rated(off=0.3, above=0.0, flows=(5.0, 10.0, 20.0, 40.0)):
    """Return settings with a rating that lies `off` above normal depth at the foot [m]."""
    levels = tuple(normal(flow) + off + SLOPE * above for flow in flows)
    return replace(BASE, foot_rating=FootRating(flows, levels, above))


def rule(settings, ground=None):
    ground = ground or river()
    return foot_rule(ground, sections_of(ground, settings), settings)


def test_a_rating_at_the_foot_sets_the_level_there():
    own = rated(0.3)
    assert rule(own).how is FootHow.RATING
    got = foot_levels(river(), [5.0, 10.0, 40.0], own)
    assert got == pytest.approx(own.foot_rating.level[::1][:2] + own.foot_rating.level[3:])
    result = solve(river(), [10.0], own)
    assert float(result["foot_level"][0]) == pytest.approx(normal(10.0) + 0.3, abs=0.02)


def test_between_its_points_it_is_straight_in_the_logarithm_of_flow():
    own = rated(0.2)
    level = own.foot_rating.level
    got = foot_levels(river(), [np.sqrt(10.0 * 20.0)], own)[0]
    assert got == pytest.approx((level[1] + level[2]) / 2)


def test_beyond_its_ends_normal_depth_is_moved_to_meet_it():
    own = rated(0.3)
    for flow in (2.0, 80.0):
        assert foot_levels(river(), [flow], own)[0] == pytest.approx(normal(flow) + 0.3, abs=1e-6)
    ends = foot_levels(river(), [39.9, 40.0, 40.1], own)
    assert (np.diff(ends) > 0).all()
    assert np.ptp(ends) < 0.02


def test_a_gauge_a_little_above_the_foot_is_carried_down_the_slope():
    own = rated(0.3, above=50.0)
    assert rule(own).how is FootHow.RATING
    assert foot_levels(river(), [10.0], own)[0] == pytest.approx(normal(10.0) + 0.3)


@pytest.mark.parametrize(
    ("own", "attrs", "why"),
    [
        (rated(), {"vertical": "local"}, Refused.LOCAL),
        (rated(above=200.0), {}, Refused.FAR),
        (rated(above=-200.0), {}, Refused.FAR),
        (rated(1.2), {}, Refused.APART),
        (rated(-1.2), {}, Refused.APART),
    ],
)
def test_where_it_may_not_set_the_level_normal_depth_stays(own, attrs, why):
    ground = river(**attrs)
    found = rule(own, ground)
    assert (found.how, found.refused) == (FootHow.NORMAL, why)
    assert foot_levels(ground, [10.0], own)[0] == normal(10.0)


def test_low_water_measured_at_the_foot_stays_the_rule_without_a_rating():
    ground = river(low_flow=5.0, low_foot_level=normal(5.0) + 0.15)
    assert rule(BASE, ground).how is FootHow.LOW_WATER
    assert foot_levels(ground, [10.0], BASE)[0] == pytest.approx(normal(10.0) + 0.15)
    assert foot_levels(ground, [10.0], rated(0.3))[0] == pytest.approx(normal(10.0) + 0.3)


@pytest.mark.parametrize(("slope", "flow"), [(0.028, 0.3), (0.028, 0.01), (0.06, 3.0)])
def test_steep_coarse_cells_whose_fall_is_more_than_the_depth_have_a_level(slope, flow):
    """Cells of 5 m that fall 0.14 m or more each: no level of the table carries so little."""
    steep = prismatic(np.r_[4.0, 2.0, 0.0, 0.0, 2.0, 4.0], slope=slope, cell=5.0)
    level = foot_levels(steep, [flow], BASE)[0]
    foot = 50.0 - slope * 400.0
    assert foot <= level <= foot + 5.0 * slope + 0.2
    assert np.isfinite(solve(steep, [flow], BASE)["depth"]).any()


def test_a_bed_that_steps_out_of_the_tables_near_the_foot_leaves_fewer_sections_for_it():
    """A fall of 30 m above the foot: no one level lies within the tables on both sides of it."""
    ground = river()
    station = ground["station"].to_numpy()
    ground["bed"] = ground["bed"] + np.where(station < 380.0, 30.0, 0.0)
    assert foot_levels(ground, [10.0], BASE)[0] == pytest.approx(normal(10.0), abs=0.25)
