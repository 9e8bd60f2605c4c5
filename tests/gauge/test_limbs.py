"""Recession against a real daily record, and laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.gauge.limbs import fallen_flow, falling_limbs, fit_recession
from reachmap.gauge.model import Gauge
from reachmap.gauge.record import Trend, flow_at, last_reading, nearest_flow

# USGS 02177000 Chattooga River near Clayton GA, daily mean discharge in cfs, 18 to 30 and 9 to 16
# September 2012: DOI-USGS/dataRetrieval, inst/extdata/RDB1Example.txt (U.S. Geological Survey).
STORM = np.array([1470, 1220, 671, 503, 411, 346, 304, 284, 272, 261, 250, 246, 243], dtype=float)
BEFORE = np.array([251, 227, 215, 209, 200, 193, 189, 185], dtype=float)


@pytest.mark.table
def test_the_days_ratios_are_those_of_the_record():
    ratios = np.round(STORM[2:] / STORM[1:-1], 3)
    printed = [0.550, 0.750, 0.817, 0.842, 0.879, 0.934, 0.958, 0.960, 0.958, 0.984, 0.988]
    assert ratios.tolist() == printed


@pytest.mark.table
@pytest.mark.parametrize(
    ("flow", "per_day"),
    [(STORM[2:8], 0.8429), (STORM[7:], 0.9684), (BEFORE, 0.9601)],
    ids=["20-25 September", "25-30 September", "9-16 September"],
)
def test_the_fit_gives_the_constants_of_each_limb(flow, per_day):
    # numpy's own line fit in logarithms, done apart from the project when the record was read
    assert fit_recession(np.arange(flow.size, dtype=float), flow).per_day == pytest.approx(
        per_day, abs=6e-5
    )


def test_the_early_limb_is_the_faster():
    early = fit_recession(np.arange(6.0), STORM[2:8])
    late = fit_recession(np.arange(6.0), STORM[7:])
    assert early.half_life_days < late.half_life_days


@given(k=st.floats(0.3, 0.999), start=st.floats(0.5, 500), gap=st.integers(0, 9))
def test_an_exact_exponential_is_found_even_with_a_gap(k, start, gap):
    days = np.arange(10.0)
    flow = fallen_flow(start, k, days)
    flow[gap] = np.nan
    found = fit_recession(days, flow)
    assert found.per_day == pytest.approx(k, rel=1e-9)
    assert found.readings == 9


def test_half_life_is_the_closed_form():
    days = np.arange(5.0)
    assert fit_recession(days, 0.9**days).half_life_days == pytest.approx(6.579, abs=5e-4)


def test_a_rise_or_too_few_readings_are_refused():
    with pytest.raises(ValueError, match="rises"):
        fit_recession(np.arange(4.0), np.array([1.0, 2.0, 3.0, 4.0]))
    with pytest.raises(ValueError, match="three readings"):
        fit_recession(np.arange(3.0), np.array([3.0, np.nan, 1.0]))


def test_limbs_end_at_rises_and_gaps():
    flow = np.array([5, 4, 3, 3, 2, 6, 5, 4, 3, np.nan, 2, 1, 1, 0.5, 9], dtype=float)
    assert [(limb.start, limb.stop) for limb in falling_limbs(flow)] == [(0, 5), (5, 9), (10, 14)]


def _gauge(flow: list[float], step_hours: int = 1) -> Gauge:
    times = np.datetime64("2031-01-01T00:00:00", "s") + np.arange(len(flow)) * np.timedelta64(
        3600 * step_hours, "s"
    )
    return Gauge("made", (), times, np.array(flow, dtype=float), np.nan)


@pytest.mark.parametrize(
    ("flow", "trend"),
    [
        ([10.0] * 8, Trend.STEADY),
        ([10 + hour for hour in range(8)], Trend.RISING),
        ([20 - hour for hour in range(8)], Trend.FALLING),
        ([10.0, 11.0], Trend.UNKNOWN),
    ],
)
def test_the_trend_is_told_or_unknown(flow, trend):
    told = last_reading(_gauge(flow))
    assert told is not None
    assert (told.trend, told.flow) == (trend, flow[-1])


def test_the_last_number_counts_not_the_last_row():
    told = last_reading(_gauge([10.0, 12.0, np.nan]))
    assert told is not None
    assert told.flow == 12.0
    assert last_reading(_gauge([np.nan, np.nan])) is None


def test_the_nearest_flow_is_nearest_by_ratio():
    assert nearest_flow(20.0, np.array([10.0, 32.0])) == 1
    assert nearest_flow(17.0, np.array([10.0, 32.0])) == 0


def test_the_flow_at_a_time_is_read_between_readings_but_not_across_a_gap():
    gauge = _gauge([10.0, 20.0, np.nan, np.nan, np.nan, np.nan, np.nan, np.nan, np.nan, 50.0])
    start = gauge.times[0]
    assert flow_at(gauge, start) == 10.0
    assert flow_at(gauge, start + np.timedelta64(1800, "s")) == pytest.approx(15.0)
    assert np.isnan(flow_at(gauge, start + np.timedelta64(5, "h")))  # eight hours without a reading
    assert np.isnan(flow_at(gauge, start - np.timedelta64(1, "s")))
    assert np.isnan(flow_at(gauge, start + np.timedelta64(10, "h")))
    assert flow_at(gauge, start + np.timedelta64(9, "h")) == 50.0
