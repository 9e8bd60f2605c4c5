import numpy as np
import pandas as pd
import pytest
from scipy.integrate import solve_ivp

from reachmap.base.errors import BuildError
from reachmap.base.physics import GRAVITY
from reachmap.flow.profile import water_profile
from tests.flow.made_channels import FOOT, TABLES, trapezoid, trapezoid_tables
from tests.flow.uniform_flow import critical_depth, normal_depth

CHOW = pd.read_csv(TABLES / "gradually_varied_chow.csv", comment="#")
CHANNEL = {"bottom": 20 * FOOT, "side": 2.0, "slope": 0.0016, "roughness": 0.025}
FLOW = 400 * FOOT**3
LENGTH = 2400 * FOOT


def chow_profile(step_ft, alpha, foot=5 * FOOT):
    tables = trapezoid_tables(**CHANNEL, alpha=alpha, length=LENGTH, step=step_ft * FOOT, top=3.0)
    return water_profile(tables, FLOW, foot), tables


def exact_depth(upstream, alpha, foot):
    """Return the depth a distance upstream of the foot by the differential equation [m]."""

    def change(_, depth):
        area = (CHANNEL["bottom"] + 2 * depth) * depth
        perimeter = CHANNEL["bottom"] + 2 * depth * np.sqrt(5)
        carry = area * (area / perimeter) ** (2 / 3) / CHANNEL["roughness"]
        froude2 = alpha * FLOW**2 * (CHANNEL["bottom"] + 4 * depth) / (GRAVITY * area**3)
        return -(CHANNEL["slope"] - (FLOW / carry) ** 2) / (1 - froude2)

    return solve_ivp(change, (0, upstream), [foot], rtol=1e-11, atol=1e-12).y[0, -1]


@pytest.mark.table
@pytest.mark.parametrize("row", list(CHOW.itertuples(index=False)), ids=str)
def test_backwater_above_a_dam_matches_the_worked_depths(row):
    profile, tables = chow_profile(25, row.energy_coefficient)
    at = np.interp(LENGTH - row.distance_ft * FOOT, profile.station, profile.level - tables.bottom)
    assert at / FOOT == pytest.approx(row.depth_ft, abs=0.0005)


def test_profile_converges_to_the_exact_integral_with_the_square_of_the_step():
    errors = []
    for step in (400, 200, 100, 50):
        profile, tables = chow_profile(step, 1.0)
        depth = profile.level[0] - tables.bottom[0]
        errors.append(abs(depth - exact_depth(LENGTH, 1.0, 5 * FOOT)))
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert errors[-1] < 1e-4
    assert (orders > 1.7).all()


def test_uniform_flow_stays_uniform():
    normal = normal_depth(*trapezoid(20 * FOOT, 2.0), roughness=0.025, slope=0.0016, flow=FLOW)
    profile, tables = chow_profile(100, 1.0, foot=normal)
    assert profile.level - tables.bottom == pytest.approx(normal, abs=1e-5)
    assert profile.friction_slope == pytest.approx(0.0016, rel=1e-4)
    assert not profile.critical.any()


def test_a_fall_over_a_brink_is_met_at_critical_depth_and_says_so():
    profile, tables = chow_profile(25, 1.0, foot=0.1)
    critical = critical_depth(*trapezoid(20 * FOOT, 2.0), flow=FLOW)
    assert profile.critical[-1]
    assert profile.level[-1] - tables.bottom[-1] == pytest.approx(critical, abs=1e-4)
    assert profile.froude[-1] == pytest.approx(1, abs=1e-3)
    assert not profile.critical[:-1].any()


def test_a_steep_channel_runs_at_critical_depth_throughout():
    tables = trapezoid_tables(
        bottom=6.0, side=2.0, slope=0.03, roughness=0.02, alpha=1.0, length=400, step=10, top=4.0
    )
    profile = water_profile(tables, 20.0, 0.2)
    assert profile.critical[:-1].all()


def test_water_higher_than_the_tables_is_refused():
    tables = trapezoid_tables(
        bottom=6.0, side=2.0, slope=0.001, roughness=0.03, alpha=1.0, length=400, step=10, top=2.0
    )
    with pytest.raises(BuildError, match="higher than the ground is known"):
        water_profile(tables, 500.0, 3.0)
    with pytest.raises(ValueError, match="more than 0"):
        water_profile(tables, 0.0, 3.0)
