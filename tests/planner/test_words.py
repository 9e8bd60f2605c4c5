"""Sentences of the planner: rain, spans, clocks."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.recession import LEADS
from reachmap.planner.words import clock, flow_span, local, rain_told, zone_words
from tests.gauge.test_recession import law

WEST = ZoneInfo("America/Los_Angeles")


def test_how_often_rain_ended_a_fall_is_told_of_a_long_record_only():
    tried, rose = np.full(LEADS, 400.0), np.full(LEADS, 100.0)
    long = replace(law(), tried=tried, rose=rose, floor=5.0)
    assert "25 % of such falls" in rain_told(long, 3)
    assert "within 3 days" in rain_told(long, 3)
    assert "within a day" in rain_told(long, 1)
    for short in (replace(long, floor=0.0), replace(long, tried=np.full(LEADS, 4.0))):
        assert "too short" in rain_told(short, 3)
    assert rain_told(None, 3) == ""


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
