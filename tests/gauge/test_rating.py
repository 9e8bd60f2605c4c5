import numpy as np
import pandas as pd
import pytest

from reachmap.gauge.model import RatingSegment, RatingShift
from reachmap.gauge.shift import shift_at
from reachmap.gauge.stage_flow import flow_from_stage
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
    stage, shift = (pairs[name].to_numpy(float) * FOOT for name in ("stage_ft", "shift_ft"))
    return RatingShift(stage, shift)


def rated_cfs(site, stage_ft):
    """Return the flow of a site's rating at stages in feet [cfs]."""
    return flow_from_stage(segments_of(site), np.atleast_1d(stage_ft) * FOOT) / FOOT**3


@pytest.mark.table
@pytest.mark.parametrize("row", list(LOOKUPS.itertuples(index=False)), ids=str)
def test_log_interpolation_with_offset_matches_the_real_ratings(row):
    assert rated_cfs(row.site, row.stage_ft) == pytest.approx(row.flow_cfs, abs=row.tolerance_cfs)


@pytest.mark.table
def test_two_gaps_of_one_true_power_law_carry_the_same_exponent():
    middle, step = np.array([0.45, 1.5]), 1e-6
    ratio = rated_cfs("12334550", middle * (1 + step)) / rated_cfs("12334550", middle)
    assert np.log(ratio) / np.log1p(step) == pytest.approx(1.45733, abs=1e-4)


@pytest.mark.table
@pytest.mark.parametrize("site", sorted(POINTS["site"].unique()))
def test_the_printed_points_come_back(site):
    segments = segments_of(site)
    for one in segments:
        assert flow_from_stage(segments, one.stage_m) == pytest.approx(one.flow, rel=1e-12)


@pytest.mark.table
@pytest.mark.parametrize(
    "row", list(SHIFTS[SHIFTS["kind"] == "between"].itertuples(index=False)), ids=str
)
def test_shifts_between_the_published_pairs(row):
    shift = shift_for(row.site)
    assert float(shift_at(shift, row.stage_ft * FOOT)) / FOOT == pytest.approx(
        row.shift_ft, abs=1e-9
    )


@pytest.mark.table
@pytest.mark.parametrize("row", list(MEASURED.itertuples(index=False)), ids=str)
def test_real_measurements_ask_for_their_shift(row):
    rated = float(rated_cfs("01594440", row.stage_ft)[0])
    assert rated == pytest.approx(row.rated_cfs, abs=0.006)
    assert 100 * (row.flow_cfs / rated - 1) == pytest.approx(row.difference_percent, abs=0.006)
    stage = row.stage_ft + row.shift_ft + np.array([-0.0006, 0.0006])  # as close as it is printed
    low, high = rated_cfs("01594440", stage)
    assert low < row.flow_cfs < high
