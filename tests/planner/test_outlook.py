"""The flow hour by hour: what is read, forecast, fallen and unknown."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.gauge.recession import fit_recession, recession_flow
from reachmap.gauge.record import Trend
from reachmap.gauge.series import DAY, HOUR, NOTHING, Series, flow_on, gap_hours
from reachmap.planner.outlook import CODES, OutlookSettings, Source, make_outlook
from tests.gauge.test_recession import law
from tests.planner.made import START, hourly

FALL = recession_flow(law(), 90.0, np.arange(24 * 8) / 24)


def look(record, forecast=NOTHING, *, now_hours=24 * 8, days=4, **how):
    now = START + now_hours * HOUR
    found = how.pop("law", fit_recession(record.until(now)))
    return make_outlook(record, forecast, now=now, until=now + days * DAY, law=found, **how)


def test_a_falling_river_falls_on_by_its_law_within_a_band():
    told = look(hourly(FALL))
    ahead = told.times > told.now
    assert set(told.source[ahead].tolist()) == {CODES[Source.FALL]}
    days = (told.times[ahead] - told.last) / DAY
    true = recession_flow(law(), float(FALL[-1]), days)
    assert np.allclose(told.flow[ahead], true, rtol=0.02)
    assert (told.low[ahead] < true).all()
    assert (true < told.high[ahead]).all()
    spread = told.high[ahead] / told.low[ahead]
    assert spread[-1] > spread[0]


def test_nobody_knows_where_a_rising_river_peaks():
    rising = np.r_[FALL, np.geomspace(FALL[-1], 60, 24)]
    told = look(hourly(rising), now_hours=24 * 9)
    assert told.trend is Trend.RISING
    assert np.isnan(told.flow[told.times > told.now]).all()


def test_nobody_knows_how_a_river_falls_from_higher_than_it_ever_did():
    # a flood drops for twelve hours: no fall of a day from there is on record yet
    flood = np.r_[FALL, np.geomspace(FALL[-1], 400, 12), np.geomspace(400, 320, 12)]
    told = look(hourly(flood), now_hours=24 * 9)
    assert told.trend is Trend.FALLING
    assert np.isnan(told.flow[told.times > told.now]).all()


def test_a_forecast_goes_before_the_fall_and_the_fall_goes_on_from_its_end():
    begin = START + 24 * 8 * HOUR
    coming = Series(begin + np.arange(0, 49, 6) * HOUR, np.linspace(25.0, 16.0, 9))
    told = look(hourly(FALL), coming)
    ahead = told.times > told.now
    inside = ahead & (told.times <= coming.times[-1])
    assert set(told.source[inside].tolist()) == {CODES[Source.FORECAST]}
    assert np.allclose(told.flow[inside], flow_on(coming, told.times[inside]), rtol=1e-9)
    after = told.times > coming.times[-1]
    assert set(told.source[after].tolist()) == {CODES[Source.FALL]}
    assert (told.flow[after] < 16.0).all()


def test_a_forecast_that_ends_rising_leaves_the_rest_unknown():
    begin = START + 24 * 8 * HOUR
    coming = Series(begin + np.arange(0, 25, 6) * HOUR, np.linspace(15.0, 60.0, 5))
    told = look(hourly(FALL), coming)
    assert np.isnan(told.flow[told.times > coming.times[-1]]).all()


def test_readings_after_now_are_not_known_yet():
    full, now = hourly(FALL), 24 * 5
    told = look(full, now_hours=now)
    cut = look(full.until(START + now * HOUR), now_hours=now)
    assert np.array_equal(told.flow, cut.flow, equal_nan=True)
    assert told.last == START + now * HOUR


def test_a_year_s_record_holds_the_fall_at_the_lowest_it_ever_saw():
    year = np.tile(FALL, 45)  # a storm every eight days
    now = year.size
    told = look(hourly(year), now_hours=now, days=6)
    lowest = float(FALL.min())
    assert np.nanmin(told.flow) == pytest.approx(lowest, rel=1e-9)
    assert np.nanmin(told.low) < lowest * 0.95  # but it may go lower
    short = look(hourly(FALL), days=6)
    assert np.nanmin(short.flow) < lowest * 0.9


def test_a_last_reading_too_old_tells_nothing():
    told = look(hourly(FALL), now_hours=24 * 14)
    assert np.isnan(told.flow[told.times > told.now]).all()


def test_without_a_law_or_a_reading_the_flow_is_unknown():
    for record in (hourly(FALL), NOTHING):
        told = look(record, law=None)
        assert np.isnan(told.flow[told.times > told.now]).all()
        assert set(told.source[told.times > told.now].tolist()) == {CODES[Source.UNKNOWN]}


def test_the_band_holds_the_gauge_s_own_doubt():
    told = look(hourly(FALL), settings=OutlookSettings(read_error=0.1))
    read = told.source == CODES[Source.READ]
    assert np.allclose(told.high[read] / told.flow[read], 1.1)


def test_a_series_refuses_times_that_do_not_rise():
    with pytest.raises(ValueError, match="rise"):
        Series(np.array([START, START]), np.array([1.0, 2.0]))


def test_the_flow_is_not_told_across_a_gap_of_hours_but_between_means_of_days():
    holed = np.where((np.arange(48) > 10) & (np.arange(48) < 20), np.nan, 5.0)
    asked = START + np.array([5, 15, 30]) * HOUR
    assert np.isnan(flow_on(hourly(holed), asked)).tolist() == [False, True, False]
    daily = Series(START + np.arange(3) * DAY, np.array([4.0, 5.0, 6.0]))
    assert gap_hours(daily) == 36.0
    assert flow_on(daily, START + np.array([12]) * HOUR)[0] == pytest.approx(4.5)
