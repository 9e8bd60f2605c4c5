import numpy as np
import pandas as pd
import pytest
from fluids.open_flow import V_Manning
from hypothesis import given
from hypothesis import strategies as st

from tests.flow.made_channels import FOOT, TABLES, trapezoid
from tests.flow.uniform_flow import (
    conveyance,
    critical_depth,
    manning_speed,
    normal_depth,
    wetted_section,
)

EXAMPLES = pd.read_csv(TABLES / "uniform_and_critical_depths.csv", comment="#")
REACHES = pd.read_csv(TABLES / "measured_reaches.csv", comment="#")


@pytest.mark.table
@pytest.mark.parametrize("row", list(EXAMPLES.itertuples(index=False)), ids=str)
def test_depths_match_the_printed_examples(row):
    offset, bed = trapezoid(row.bottom_ft * FOOT, row.side_slope)
    flow = row.flow_cfs * FOOT**3
    if row.quantity == "normal":
        depth = normal_depth(offset, bed, roughness=row.roughness, slope=row.slope, flow=flow)
    else:
        depth = critical_depth(offset, bed, flow=flow, energy_coefficient=row.energy_coefficient)
    assert depth / FOOT == pytest.approx(row.depth_ft, abs=row.tolerance_ft)


@pytest.mark.table
@pytest.mark.parametrize("row", list(REACHES.itertuples(index=False)), ids=str)
def test_manning_speed_meets_the_measured_reaches(row):
    if np.isfinite(row.roughness):
        speed = manning_speed(row.depth_m, row.slope, row.roughness)
        assert speed == pytest.approx(row.speed_m_s, rel=row.tolerance)
    assert row.speed_m_s * row.area_m2 == pytest.approx(row.flow_m3_s, rel=0.025)


@given(radius=st.floats(0.01, 20), slope=st.floats(1e-5, 0.05), n=st.floats(0.01, 0.2))
def test_manning_speed_agrees_with_a_general_fluids_library(radius, slope, n):
    assert manning_speed(radius, slope, n) == pytest.approx(V_Manning(radius, slope, n), rel=1e-12)


@given(depth=st.floats(0.01, 20), slope=st.floats(1e-5, 0.05), n=st.floats(0.01, 0.2))
def test_four_times_the_slope_is_twice_the_speed(depth, slope, n):
    assert manning_speed(depth, 4 * slope, n) == pytest.approx(2 * manning_speed(depth, slope, n))


def test_unknown_depth_has_unknown_speed():
    assert np.isnan(manning_speed([np.nan, 1.0], 0.002, 0.03)).tolist() == [True, False]


@pytest.mark.parametrize("wrong", [(-1, 0.002, 0.03), (1, -0.002, 0.03), (1, 0.002, 0)])
def test_nonsense_is_refused(wrong):
    with pytest.raises(ValueError, match="must be >= 0"):
        manning_speed(*wrong)


@given(bottom=st.floats(1, 50), side=st.floats(0, 4), depth=st.floats(0.05, 9))
def test_a_trapezoid_is_measured_exactly(bottom, side, depth):
    area, perimeter, width = wetted_section(*trapezoid(bottom, side), depth)
    assert area == pytest.approx((bottom + side * depth) * depth)
    assert width == pytest.approx(bottom + 2 * side * depth)
    walls = 2 * depth * np.hypot(1, side)
    assert perimeter == pytest.approx(bottom + walls)


@given(
    flow=st.floats(0.1, 500),
    slope=st.floats(1e-4, 0.02),
    n=st.floats(0.02, 0.1),
    side=st.floats(0, 3),
)
def test_normal_depth_carries_the_flow(flow, slope, n, side):
    offset, bed = trapezoid(10.0, side, 60.0)
    depth = normal_depth(offset, bed, roughness=n, slope=slope, flow=flow)
    area, perimeter, _ = wetted_section(offset, bed, depth)
    carried = conveyance(area, area / perimeter, n) * np.sqrt(slope)
    assert carried == pytest.approx(flow, rel=1e-6)


def test_a_flow_no_section_can_carry_is_refused():
    offset, bed = trapezoid(1.0, 0.0, 1.0)
    with pytest.raises(ValueError, match="cannot carry"):
        normal_depth(offset, bed, roughness=0.03, slope=1e-6, flow=1e6)
    with pytest.raises(ValueError, match="wants more than 0"):
        normal_depth(offset, bed, roughness=0.03, slope=0.001, flow=0)
