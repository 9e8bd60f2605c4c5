import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.gauge.model import Gauge, RatingSegment
from reachmap.gauge.rating import (
    Rating,
    Shift,
    flow_at,
    is_rated,
    levels_from_gauge,
    rating_of,
    shift_of,
    shifted_flow_at,
    shifted_stage_at,
    stage_at,
)
from tests.flow.made_channels import FOOT, TABLES

KINDS = {"site": str}
POINTS = pd.read_csv(TABLES / "rating_points.csv", comment="#", dtype=KINDS)
LOOKUPS = pd.read_csv(TABLES / "rating_lookups.csv", comment="#", dtype=KINDS)
SHIFTS = pd.read_csv(TABLES / "rating_shifts.csv", comment="#", dtype=KINDS)
MEASURED = pd.read_csv(TABLES / "rating_measurements.csv", comment="#")


def segments_of(site):
    """Return a site's rating segments in SI."""
    return [
        RatingSegment(
            stage_m=part["stage_ft"].to_numpy(float) * FOOT,
            flow=part["flow_cfs"].to_numpy(float) * FOOT**3,
            offset_m=float(part["offset_ft"].iloc[0]) * FOOT,
        )
        for _, part in POINTS[POINTS["site"] == site].groupby("segment")
    ]


def shift_for(site):
    pairs = SHIFTS[(SHIFTS["site"] == site) & (SHIFTS["kind"] == "pair")]
    return Shift(pairs["stage_ft"].to_numpy(float) * FOOT, pairs["shift_ft"].to_numpy(float) * FOOT)


@pytest.mark.table
@pytest.mark.parametrize("row", list(LOOKUPS.itertuples(index=False)), ids=str)
def test_log_interpolation_with_offset_matches_the_real_ratings(row):
    rating = rating_of(segments_of(row.site))
    flow = float(flow_at(rating, row.stage_ft * FOOT)) / FOOT**3
    assert flow == pytest.approx(row.flow_cfs, abs=row.tolerance_cfs)


@pytest.mark.table
def test_two_gaps_of_one_true_power_law_carry_the_same_exponent():
    rating = rating_of(segments_of("12334550"))
    middle = np.array([0.45, 1.5]) * FOOT
    step = 1e-6
    power = np.log(flow_at(rating, middle * (1 + step)) / flow_at(rating, middle)) / np.log1p(step)
    assert power == pytest.approx(1.45733, abs=1e-4)


@pytest.mark.table
@pytest.mark.parametrize("site", sorted(POINTS["site"].unique()))
def test_the_printed_points_come_back_and_the_inverse_undoes(site):
    rating = rating_of(segments_of(site))
    assert flow_at(rating, rating.stage) == pytest.approx(rating.flow, rel=1e-12)
    stage = np.linspace(rating.stage[0], rating.stage[-1], 101)
    assert stage_at(rating, flow_at(rating, stage)) == pytest.approx(stage, abs=1e-9)


@pytest.mark.table
@pytest.mark.parametrize(
    "row", list(SHIFTS[SHIFTS["kind"] == "between"].itertuples(index=False)), ids=str
)
def test_shifts_between_the_published_pairs(row):
    shift = shift_for(row.site)
    assert float(shift.at(row.stage_ft * FOOT)) / FOOT == pytest.approx(row.shift_ft, abs=1e-9)


@pytest.mark.table
@pytest.mark.parametrize("row", list(MEASURED.itertuples(index=False)), ids=str)
def test_real_measurements_ask_for_their_shift(row):
    rating = rating_of(segments_of("01594440"))
    rated = float(flow_at(rating, row.stage_ft * FOOT)) / FOOT**3
    assert rated == pytest.approx(row.rated_cfs, abs=0.006)
    assert 100 * (row.flow_cfs / rated - 1) == pytest.approx(row.difference_percent, abs=0.006)
    shift = float(shift_of(rating, row.stage_ft * FOOT, row.flow_cfs * FOOT**3)) / FOOT
    assert shift == pytest.approx(row.shift_ft, abs=0.0006)


@given(stage=st.floats(3.8, 8.5))
def test_shifted_rating_undoes_itself(stage):
    rating, shift = rating_of(segments_of("06078500")), shift_for("12324400")
    flow = shifted_flow_at(rating, stage * FOOT, shift)
    assert float(shifted_stage_at(rating, flow, shift)) / FOOT == pytest.approx(stage, abs=1e-9)


def test_flows_no_one_measured_are_refused_and_flagged():
    rating = rating_of(segments_of("12323720"))
    low, high = rating.flow[0], rating.flow[-1]
    for wrong in (0.9 * low, 1.1 * high):
        with pytest.raises(ValueError, match="outside the rated range"):
            stage_at(rating, wrong)
    with pytest.raises(ValueError, match="outside the rated range"):
        flow_at(rating, [1.2, 9.0])
    assert is_rated(rating, [0.9 * low, low, high, 1.1 * high, np.nan]).tolist() == [
        False, True, True, False, False,
    ]  # fmt: skip


def test_unknown_stage_has_unknown_flow():
    rating = rating_of(segments_of("12323720"))
    assert np.isnan(flow_at(rating, np.nan))
    assert np.isnan(stage_at(rating, np.nan))


def test_from_no_flow_the_first_gap_is_straight():
    rating = Rating(np.array([1.0, 2.0]), np.array([0.0, 4.0]), np.array([1.0]))
    assert float(flow_at(rating, 1.5)) == pytest.approx(2.0)
    assert float(stage_at(rating, 3.0)) == pytest.approx(1.75)


@pytest.mark.parametrize(
    ("stage", "flow", "offset"),
    [
        ([1.0], [1.0], []),
        ([1.0, 1.0], [1.0, 2.0], [0.0]),
        ([1.0, 2.0], [2.0, 1.0], [0.0]),
        ([1.0, 2.0], [-1.0, 1.0], [0.0]),
        ([1.0, 2.0], [1.0, 2.0], [0.0, 0.0]),
    ],
)
def test_points_that_make_no_rating_are_refused(stage, flow, offset):
    with pytest.raises(ValueError, match="rating"):
        Rating(np.array(stage), np.array(flow), np.array(offset))


def test_a_shift_that_folds_the_rating_is_refused():
    with pytest.raises(ValueError, match="must rise"):
        Shift(np.array([1.0, 1.1]), np.array([0.0, -0.2]))


def test_levels_from_a_gauge_need_its_zero():
    times = np.array([], dtype="datetime64[s]")
    segments = tuple(segments_of("12323720"))
    blind = Gauge("home", segments, times, np.array([]), np.nan)
    known = Gauge("home", segments, times, np.array([]), 100.0)
    flow = 61.27 * FOOT**3
    assert levels_from_gauge(blind, [flow]) == ()
    ((got, level),) = levels_from_gauge(known, [flow, 1e6])
    assert got == flow
    assert level == pytest.approx(100 + 4.87 * FOOT)
