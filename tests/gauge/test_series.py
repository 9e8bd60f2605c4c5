"""The flow at an instant: by numpy's interpolation, and the same however many are asked for."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from reachmap.gauge.series import HOUR, Series, flow_on

BEGIN = np.datetime64("2030-01-01T00:00:00", "s")


@given(
    st.lists(st.tuples(st.integers(1, 3600), st.floats(0.1, 50)), min_size=1, max_size=20),
    st.lists(st.integers(-7200, 80_000), max_size=8),
)
def test_between_readings_the_flow_is_that_of_numpy_s_interpolation(steps, asked):
    seconds = np.cumsum([step for step, _ in steps])
    flow = np.array([one for _, one in steps])
    series = Series(BEGIN + seconds.astype("timedelta64[s]"), flow)
    told = flow_on(series, BEGIN + np.array(asked, dtype="timedelta64[s]"))
    expected = np.interp(asked, seconds, flow, left=np.nan, right=np.nan) if asked else []
    np.testing.assert_allclose(told, expected, rtol=1e-12)
    for number, one in enumerate(asked):  # alone or among others, in whatever order
        alone = flow_on(series, BEGIN + np.array([one], dtype="timedelta64[s]"))
        np.testing.assert_array_equal(alone, told[number : number + 1])


def test_neither_gaps_nor_unknown_readings_are_bridged_and_no_time_is_no_flow():
    hours = np.array([0, 1, 2, 3, 30, 31])
    flow = np.array([1.0, np.nan, 3.0, 4.0, 5.0, 6.0])
    series = Series(BEGIN + hours * HOUR, flow)
    asked = np.r_[BEGIN + np.array([15, 1, 3]) * HOUR, np.datetime64("NaT", "s")]
    told = flow_on(series, asked)
    assert np.isnan(told[[0, 3]]).all()
    assert told[1] == 2.0  # the hour between two that are known
    assert told[2] == 4.0
    assert np.isnan(flow_on(series, asked[3:])).all()


def test_what_is_found_once_is_kept_and_a_record_without_gaps_is_its_own():
    series = Series(BEGIN + np.arange(4) * HOUR, np.ones(4))
    assert series.known is series
    holed = Series(series.times, np.array([1.0, np.nan, 0.0, 2.0]))
    assert holed.known is holed.known
    assert holed.known.flow.tolist() == [1.0, 2.0]
