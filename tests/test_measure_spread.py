"""The judges of stated spreads: they run on today's settings, and count what was put in."""

import numpy as np
import pandas as pd
import pytest

from scripts import fit_cases, measure_odds, measure_spread, measure_yardstick, spread_cases
from tests.ground.test_form_error import DRAWN
from tests.made import made_flows, made_ground


def test_members_are_drawn_and_solved_as_asked_on_the_command_line():
    got = measure_spread.settings_of(DRAWN)
    assert got.uncertainty is measure_spread.DOUBT[0]
    assert got.flow is measure_spread.ENGINE
    assert got.ground is measure_spread.SETTINGS


def test_a_flow_without_doubt_is_read_by_the_judge_of_odds():
    ground = made_ground(length=300, half_width=20, deep=1.2)
    field = measure_odds.as_field(ground, made_flows(ground, {20.0: 0.0}), None)
    assert field.wet.any()


def places(count=10_000, spread=0.2):
    rng = np.random.default_rng(4)
    true = rng.uniform(1.0, 2.0, count)
    soft = np.arange(count) % 4 == 0
    return pd.DataFrame(
        {
            "depth": true + rng.normal(0, 0.1, count),
            "true_depth": true,
            "depth_spread": spread,
            "speed": true + rng.normal(0, 0.2, count),
            "true_speed": true,
            "speed_spread": spread,
            "soft": soft,
            "true_soft": soft,
            "soft_near": soft,
            "true_soft_near": soft,
            "suits_chance": np.where(soft, 1.0, 0.0),
        }
    )


def test_an_honest_spread_holds_what_the_normal_law_says_and_a_wide_one_more():
    table = places()
    assert measure_spread.held_shares(table, "speed") == pytest.approx((0.683, 0.954), abs=0.015)
    assert measure_spread.held_shares(table, "depth") == pytest.approx((0.954, 1.0), abs=0.015)


def test_dry_and_unknown_places_are_not_counted():
    table = places()
    far = pd.DataFrame({**places(5000), "depth": np.nan})
    dry = pd.DataFrame({**places(5000), "true_depth": 0.0})
    whole = pd.concat([table, far, dry])
    for what in ("depth", "speed"):
        assert measure_spread.held_shares(whole, what) == measure_spread.held_shares(table, what)


def test_figures_of_a_true_map_and_of_one_turned_round():
    table = places()
    true = measure_yardstick.figures(table)
    assert (true["overlap"], true["near"], true["brier"]) == pytest.approx((1, 1, 1))
    assert true["depth_rms"] == pytest.approx(0.1, rel=0.03)
    turned = {"soft": ~table.soft, "soft_near": ~table.soft, "suits_chance": 1 - table.suits_chance}
    wrong = measure_yardstick.figures(table.assign(**turned))
    assert (wrong["overlap"], wrong["near"]) == (0, 0)
    assert wrong["brier"] < -1


def test_the_page_has_the_mean_over_draws_of_each_evidence_in_the_order_given():
    row = measure_yardstick.figures(places()) | {"edge": 0.2}
    rows = [
        row | {"seed": seed, "given": given, "flow": "high", "overlap": share}
        for seed, share in ((1, 0.5), (2, 0.7))
        for given in ("nothing", "a little")
    ]
    lines = measure_yardstick.page(pd.DataFrame(rows)).splitlines()[2:]
    assert [line.split(" | ")[0] for line in lines] == ["| nothing", "| a little"]
    assert all(line.split(" | ")[2] == "0.60" for line in lines)


def test_a_made_river_is_uneven_and_as_rough_as_its_doubt_draws():
    case = fit_cases.benched(1, 300.0, spread_cases.SETTINGS.cell)
    uneven, truth, ran = spread_cases.made_uneven(case, 1)
    rough = np.log(uneven.roughness / case.roughness)
    assert np.nanstd(rough) == pytest.approx(spread_cases.ROUGH_SD, rel=0.01)
    assert np.nanstd(uneven.bed - case.bed) == pytest.approx(spread_cases.BED_SD_M, rel=0.01)
    assert ran != case.flows
    assert truth["bed"].shape == case.bed.shape
