"""Sentences of the planner: rain, spans, clocks."""

from __future__ import annotations

import math
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reachmap.base.units import to_si
from reachmap.base.words import Confidence, UnitSystem
from reachmap.gauge.clarity_data import BasisKind, ClarityBasis, Limb
from reachmap.gauge.recession import LEADS
from reachmap.planner.choose import ConfidenceLimit, LimitKind
from reachmap.planner.day import NotListed
from reachmap.planner.sun import local
from reachmap.planner.water_temp import Warmth
from reachmap.text.days import (
    NOT_LISTED,
    basis_words,
    clock,
    confidence_limit_words,
    flow_span,
    zone_words,
)
from reachmap.text.outlook import rain_sentence
from reachmap.text.warmth import WARMTHS, temperature_words
from tests.gauge.test_recession import law

WEST = ZoneInfo("America/Los_Angeles")


def test_how_often_rain_ended_a_fall_is_told_of_a_long_record_only():
    tried, rose = np.full(LEADS, 400.0), np.full(LEADS, 100.0)
    long = replace(law(), tried=tried, rose=rose, floor=5.0)
    assert "25 % of such falls" in rain_sentence(long, 3)
    assert "within 3 days" in rain_sentence(long, 3)
    assert "within a day" in rain_sentence(long, 1)
    for short in (replace(long, floor=0.0), replace(long, tried=np.full(LEADS, 4.0))):
        assert "too short" in rain_sentence(short, 3)
    assert rain_sentence(None, 3) == ""


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [(2193, 2441, "2,200-2,400 cfs"), (906, 909, "910 cfs"), (np.nan, 900, "not known")],
)
def test_a_span_of_flows_is_told_to_two_figures(low, high, told):
    ends = (to_si(float(one), "cfs") for one in (low, high))
    assert flow_span(*ends, UnitSystem.US) == told


def test_the_clock_is_right_on_both_sides_of_its_change():
    before = np.datetime64("2030-03-10T09:59:00", "s")
    after = np.datetime64("2030-03-10T10:00:00", "s")
    assert (clock(before, WEST), zone_words(before, WEST)) == ("01:59", "PST")
    assert (clock(after, WEST), zone_words(after, WEST)) == ("03:00", "PDT")
    first, second = (np.datetime64(f"2030-11-03T0{hour}:30:00", "s") for hour in (8, 9))
    assert clock(first, WEST) == clock(second, WEST) == "01:30"
    assert zone_words(first, WEST) != zone_words(second, WEST)
    assert zone_words(before, ZoneInfo("Etc/GMT+9")) == "UTC-09"
    assert local(before, WEST).utcoffset() != local(after, WEST).utcoffset()


def test_warm_water_is_told_as_a_reason_to_leave_fish_in_peace():
    assert temperature_words(math.nan, UnitSystem.US) == ""
    assert "leave them in peace" in temperature_words(21.0, UnitSystem.US)
    assert "41 °F" in temperature_words(5.0, UnitSystem.US)
    assert "5.0 °C" in temperature_words(5.0, UnitSystem.METRIC)


def test_every_fact_of_a_day_has_its_words():
    for kind in NotListed:
        assert NOT_LISTED[kind]
    for kind in LimitKind:
        assert confidence_limit_words(ConfidenceLimit(kind, Confidence.LOW, 2.0))
    for kind in BasisKind:
        assert basis_words(ClarityBasis(kind, 5, Limb.FALLING))
    for warmth in Warmth:
        assert WARMTHS[warmth]


def test_the_note_of_a_storm_is_named_beside_the_law_that_it_moved():
    plain = ClarityBasis(BasisKind.LIMB_NOTES, 6, Limb.RISING)
    assert basis_words(plain) == "6 notes on the rising limb"
    moved = ClarityBasis(BasisKind.LIMB_NOTES, 6, Limb.RISING, storm_note=True)
    assert basis_words(moved) == "6 notes on the rising limb, and the note of this storm"
