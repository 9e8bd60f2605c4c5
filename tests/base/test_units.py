"""The table of units against published factors and laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.units import FACTORS, flow_label, flow_words, from_si, to_si
from reachmap.base.words import UnitSystem

# NIST Special Publication 811 (2008), appendix B.8, printed to seven digits; from memory.
PRINTED = [
    ("ft", 3.048e-01),
    ("in", 2.54e-02),
    ("yd", 9.144e-01),
    ("mi", 1.609344e03),
    ("cfs", 2.831685e-02),
    ("ft/s", 3.048e-01),
    ("ft2/s", 9.290304e-02),
]


@pytest.mark.table
@pytest.mark.parametrize(("unit", "factor"), PRINTED)
def test_factors_are_the_printed_ones(unit, factor):
    assert to_si(1.0, unit) == pytest.approx(factor, rel=2e-7)


@given(value=st.floats(-1e6, 1e6), unit=st.sampled_from(sorted(FACTORS)))
def test_there_and_back_is_the_same(value, unit):
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-12)


def test_unknown_stays_unknown():
    assert np.isnan(to_si(np.array([np.nan, 1.0]), "ft")).tolist() == [True, False]


def test_a_unit_nobody_knows_is_refused():
    with pytest.raises(KeyError):
        to_si(1.0, "furlong")


@pytest.mark.parametrize(
    ("flow", "units", "label", "words"),
    [
        (to_si(2400.0, "cfs"), UnitSystem.US, "2400cfs", "2,400 cfs"),
        (68.0, UnitSystem.METRIC, "68m3s", "68 m³/s"),
        (0.45, UnitSystem.METRIC, "0.45m3s", "0.45 m³/s"),
        (to_si(99.5, "cfs"), UnitSystem.US, "99.5cfs", "99.5 cfs"),
    ],
)
def test_flows_have_a_short_name_and_a_readable_one(flow, units, label, words):
    assert flow_label(flow, units) == label
    assert flow_words(flow, units) == words
