"""How a river falls: the closed form, the real daily record, the sample's storm."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from reachmap.base.words import UnitSystem
from reachmap.gauge.model import GaugeNote
from reachmap.gauge.read import read_gauge
from reachmap.gauge.recession import LEADS, RecessionLaw, fit_recession, recession_flow
from reachmap.gauge.series import DAY, NOTHING, Series, flow_on
from tests.planner.made import START, hourly

ROOT = Path(__file__).resolve().parents[2]
REAL = pd.read_csv(ROOT / "shared/tables/daily_flow_chattooga_2012.csv", comment="#")
ZEROS = np.zeros(LEADS)


def law(rate: float = 0.2, power: float = 0.8, middle: float = 20.0) -> RecessionLaw:
    return RecessionLaw(rate, power, middle, 1.0, 100.0, 20, ZEROS, ZEROS, ZEROS, ZEROS)


@pytest.mark.parametrize(("rate", "power"), [(0.1, 0.0), (0.2, 0.5), (0.3, 1.5)])
def test_the_closed_form_is_the_solution_of_the_equation(rate, power):
    # scipy's integrator on -dQ/dt = a Q^b, apart from the formula
    days = np.linspace(0, 10, 21)
    found = solve_ivp(
        lambda _, q: -rate * (q / 20.0) ** power * q, (0, 10), [60.0], t_eval=days, rtol=1e-10
    )
    told = recession_flow(law(rate, power), 60.0, days)
    assert np.allclose(told, found.y[0], rtol=1e-7)


@given(
    rate=st.floats(0.01, 1.0),
    power=st.floats(0.0, 2.5),
    flow=st.floats(1.0, 200.0),
    first=st.floats(0.0, 5.0),
    second=st.floats(0.0, 5.0),
)
def test_falling_twice_is_falling_for_the_sum(rate, power, flow, first, second):
    one = law(rate, power)
    half = float(recession_flow(one, flow, np.array([first]))[0])
    whole = recession_flow(one, flow, np.array([first + second]))[0]
    assert recession_flow(one, half, np.array([second]))[0] == pytest.approx(whole, rel=1e-6)
    assert whole <= flow


@pytest.mark.parametrize("power", [0.3, 1.0])
def test_a_made_law_is_found_again(power):
    true = law(0.25, power, 20.0)
    days = np.arange(24 * 12) / 24
    found = fit_recession(hourly(recession_flow(true, 90.0, days)))
    assert found is not None
    told = recession_flow(found, 90.0, days)
    assert np.abs(np.log(told / recession_flow(true, 90.0, days))).max() < 0.01


def real_record() -> Series:
    times = REAL["date"].to_numpy(dtype="datetime64[s]") + np.timedelta64(12, "h")
    return Series(times, REAL["flow_cfs"].to_numpy(dtype=float))


@pytest.mark.table
def test_the_real_daily_record_falls_as_the_law_says():
    record = real_record()
    found = fit_recession(record)
    assert found is not None
    storm = record.after(np.datetime64("2012-09-18T18:00"))
    days = (storm.times - storm.times[0]) / DAY
    misses = np.log(storm.flow / recession_flow(found, float(storm.flow[0]), days))
    # over eleven days and a fall to a fifth; one exponential misses by more than twice as much
    assert np.abs(misses).max() < 0.15
    rate = np.polyfit(days, np.log(storm.flow), 1)[0]
    line = np.log(storm.flow / storm.flow[0]) - rate * days
    assert np.abs(line).max() > 2 * np.abs(misses).max()


@pytest.mark.table
def test_the_real_days_to_come_lie_within_the_band_of_a_law_that_never_saw_them():
    record = real_record()
    seen = record.until(np.datetime64("2012-09-25T18:00"))
    found = fit_recession(seen)
    assert found is not None
    later = record.after(seen.times[-1])
    days = (later.times - seen.times[-1]) / DAY
    told = recession_flow(found, float(seen.flow[-1]), days)
    leads = np.arange(1.0, LEADS + 1)
    low, high = (np.exp(np.interp(days, leads, side)) * told for side in (found.low, found.high))
    assert ((low <= later.flow) & (later.flow <= high)).all()


def test_the_sample_storm_falls_as_its_first_days_foretell():
    paths = sorted((ROOT / "data_samples/madeup_river/gauge").glob("*.csv"))
    gauge, faults, _ = read_gauge(paths, GaugeNote(), UnitSystem.US)
    assert gauge is not None
    assert not faults
    record = Series(gauge.times, gauge.flow)
    now = np.datetime64("2030-01-13T00:00", "s")
    found = fit_recession(record.until(now))
    assert found is not None
    days = np.arange(0, 5.1, 0.25)
    true = flow_on(record, now + (days * 86_400).astype("timedelta64[s]"))
    told = recession_flow(found, float(true[0]), days)
    assert np.abs(np.log(told / true)).max() < 0.08


def test_too_few_falls_bear_no_law():
    assert fit_recession(NOTHING) is None
    assert fit_recession(hourly(np.linspace(20, 10, 30))) is None
    assert fit_recession(hourly(np.linspace(10, 20, 24 * 10))) is None  # it only rises


def test_gaps_are_not_taken_for_falls():
    flow = recession_flow(law(), 90.0, np.arange(24 * 10) / 24)
    whole = fit_recession(hourly(flow))
    holed = flow.copy()
    holed[60:100] = np.nan
    torn = fit_recession(hourly(holed))
    assert whole is not None
    assert torn is not None
    assert torn.steps < whole.steps
    days = np.arange(6.0)
    assert np.allclose(
        recession_flow(torn, 40.0, days), recession_flow(whole, 40.0, days), rtol=0.01
    )


def test_the_band_widens_with_time_and_rises_are_counted():
    days = np.arange(24 * 8) / 24
    falls = [
        recession_flow(law(), 60.0 + 10 * k, days) for k in range(6)
    ]  # a storm every eight days
    found = fit_recession(hourly(np.concatenate(falls)))
    assert found is not None
    assert (np.diff(found.high) >= 0).all()
    assert (np.diff(found.low) <= 0).all()
    share = found.rose / found.tried
    assert share[0] < share[6]
    assert share[7] == pytest.approx(1.0)


def test_a_daily_record_across_summer_time_is_read():
    # noon of local days is an hour earlier in UTC from one day on
    flow = recession_flow(law(), 90.0, np.arange(12.0))
    times = START + np.arange(12) * DAY
    times[6:] -= np.timedelta64(1, "h")
    found = fit_recession(Series(times, flow))
    assert found is not None
    assert found.rate > 0
