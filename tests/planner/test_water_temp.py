"""Oxygen against the standard's table and against the oceanographers' library."""

from __future__ import annotations

import math
from pathlib import Path

import gsw
import pandas as pd
import pytest

from reachmap.planner.water_temp import Warmth, oxygen_mg_l, warmth_of

ROWS = pd.read_csv(
    Path(__file__).resolve().parents[2] / "shared/tables/oxygen_en25814.csv", comment="#"
)
OXYGEN_G_MOL = 31.9988


@pytest.mark.table
@pytest.mark.parametrize("row", list(ROWS.itertuples(index=False)), ids=lambda r: f"{r.celsius} C")
def test_oxygen_is_that_of_the_standard(row):
    digits = 2 if row.mg_l < 10 else 1
    assert oxygen_mg_l(row.celsius) == pytest.approx(row.mg_l, abs=0.51 * 10.0**-digits)
    assert oxygen_mg_l(row.celsius, atmospheres=0.95) == pytest.approx(row.atm095, abs=6e-4)


@pytest.mark.table
@pytest.mark.parametrize("celsius", [0.5, 4.0, 8.0, 12.5, 16.0, 20.0, 25.0])
def test_oxygen_is_that_of_gsw(celsius):
    # TEOS-10's O2sol for fresh water, umol/kg, by its density
    per_kg = float(gsw.O2sol_SP_pt(0.0, celsius)) * OXYGEN_G_MOL / 1000
    density = float(gsw.rho_t_exact(0.0, celsius, 0.0)) / 1000
    assert oxygen_mg_l(celsius) == pytest.approx(per_kg * density, abs=0.003)


def test_beyond_its_range_the_formula_says_nothing():
    assert math.isnan(oxygen_mg_l(-1.0))
    assert math.isnan(oxygen_mg_l(50.0))
    assert math.isnan(oxygen_mg_l(10.0, atmospheres=2.0))


@pytest.mark.parametrize(
    ("celsius", "warmth"),
    [
        (math.nan, None), (4.4, Warmth.COLD), (4.5, Warmth.QUICK), (7.0, Warmth.LIVELY),
        (16.0, Warmth.WARM), (19.9, Warmth.WARM), (20.0, Warmth.REST),
    ],
)  # fmt: skip
def test_temperatures_fall_into_classes_at_the_bounds_of_the_trade(celsius, warmth):
    # common practice, no published source
    assert warmth_of(celsius) is warmth
