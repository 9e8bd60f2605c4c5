"""What is typed into the form: numbers, times, places, and every fault by its field."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.words import UnitSystem
from reachmap.logbook.model import Seen, SeenKind
from reachmap.web.trip_form.entries import entry_form
from reachmap.web.trip_form.typed import (
    SEEN,
    Around,
    TypedError,
    number_of,
    read_entry,
    typed_moment,
)
from tests.logbook.test_store import FULL
from tests.web.trip_form.conftest import NOW, gauged

US = Around(UnitSystem.US, NOW, gauged)
METRIC = Around(UnitSystem.METRIC, NOW, gauged)
ZONE = "America/Vancouver"


def sent(**fields):
    given_ = {"date": "2031-01-04", "time": "08:30", "zone": ZONE} | fields
    return {name: value if isinstance(value, list) else [value] for name, value in given_.items()}


def seen(kind, value="", seconds="", place="46.2, -141.3", note=""):
    row = (kind, value, seconds, place, note)
    return {name: [cell] for name, cell in zip(SEEN, row, strict=True)}


def faults_of(around=US, **fields):
    with pytest.raises(TypedError) as told:
        read_entry(sent(**fields), around)
    return told.value.faults


@pytest.mark.parametrize(
    ("text", "value"),
    [("2400", 2400), ("2,400", 2400), ("1,5", 1.5), (".5", 0.5), ("1,234.8", 1234.8), ("-3", -3)],
)
def test_numbers_as_people_write_them(text, value):
    assert number_of(text) == value


@pytest.mark.parametrize("text", ["", "a lot", "1e9", "nan", "inf", "1 2", "1,2,3", "--1"])
def test_what_is_no_number(text):
    assert math.isnan(number_of(text))


def test_numbers_are_of_the_folders_units():
    fields = {"flow": "100", "clarity": "2", "water": "50"}
    us = read_entry(sent(**fields), US)
    metric = read_entry(sent(**fields | {"water": "5"}), METRIC)
    assert us.flow == pytest.approx(2.8316846592)  # 100 x 0.3048^3
    assert us.clarity_m == pytest.approx(0.6096)
    assert us.water_c == pytest.approx(10.0)  # 50 F is 10 C exactly
    assert "water" in faults_of(METRIC, water="50")
    assert (metric.flow, metric.clarity_m, metric.water_c) == (100, 2, 5)


def test_a_flow_may_name_its_unit():
    assert read_entry(sent(flow="68 m3/s"), US).flow == 68
    assert read_entry(sent(flow="68m\u00b3/s"), US).flow == 68
    assert read_entry(sent(flow="100 CFS"), METRIC).flow == pytest.approx(2.8316846592)


def test_an_empty_flow_is_the_gauges_or_unknown():
    known = read_entry(sent(date="2031-01-05"), US)
    assert (known.flow, known.flow_from) == (40.0, "gauge")
    blind = read_entry(sent(), US)
    assert math.isnan(blind.flow)
    assert blind.flow_from == ""


def test_every_fault_is_told_by_its_field_at_once():
    rows = {name: [] for name in SEEN}
    for row in (
        seen("depth", "1"),
        seen("sounding", "x"),
        seen("speed", "3"),
        seen("edge", place="0"),
    ):
        for name, cells in row.items():
            rows[name] += cells
    told = faults_of(
        date="2031-02-30", flow="0", minutes="1441", touches="-1", landed="1.5", water="300",
        clarity="900", place="north", **rows,
    )  # fmt: skip
    assert set(told) == {
        "date", "flow", "minutes", "touches", "landed", "water", "clarity", "place",
        "seen_0", "seen_1", "seen_2", "seen_3",
    }  # fmt: skip
    assert told["minutes"] == "wants 0 to 1440"
    assert told["clarity"] == "wants 0 to 196.85 ft"  # 60 m


@pytest.mark.parametrize(
    ("fields", "name", "word"),
    [
        ({"date": ""}, "date", "say the day"),
        ({"date": "2031-03-09", "time": "08:30"}, "sure", "ahead"),
        ({"date": "2013-03-10", "time": "02:30"}, "date", "summer time skips"),
        ({"landed": "1", "released": "2"}, "released", "more than landed, which is 1"),
        ({"note": "x" * 20_001}, "note", "too long"),
        (seen("speed", "200", "1"), "seen_0", "faster than rivers"),
        (seen("sounding", "400"), "seen_0", "0 to 164 ft"),
        (seen("edge", note="x", place=""), "seen_0", "say where"),
    ],
)
def test_one_fault(fields, name, word):
    assert word in faults_of(**fields)[name]


def test_a_stick_tells_a_speed():
    (one,) = read_entry(sent(**seen("speed", "20", "6")), US).seen
    assert one.value == pytest.approx(1.016)  # 20 x 0.3048 / 6
    assert (one.x, one.y) == (-141.3, 46.2)


def test_rows_that_say_nothing_are_left_out():
    rows = {name: ["" if name != "seen_kind" else "edge"] * 3 for name in SEEN}
    assert read_entry(sent(**rows), US).seen == ()


def test_a_time_may_bring_its_own_offset_and_an_unknown_zone_is_the_clocks():
    assert typed_moment("2031-01-05", "08:30-03:00", ZONE, NOW).utcoffset() == timedelta(hours=-3)
    when = typed_moment("2031-01-05", "08:30", "Nowhere/Such", NOW)
    assert when.astimezone(UTC) == datetime(2031, 1, 5, 16, 30, tzinfo=UTC)


def test_nul_signs_are_dropped_and_line_ends_are_plain():
    entry = read_entry(sent(note="a\r\nb\x00c"), US)
    assert entry.note == "a\nbc"


@pytest.mark.parametrize("units", list(UnitSystem))
def test_a_kept_entry_goes_through_the_form_unchanged(units):
    full = replace(FULL, seen=(*FULL.seen, Seen(SeenKind.SPEED, -141.3, 46.2, 0.7, "stick")))
    fields = entry_form(full, units)
    rows = fields.pop("seen")
    again = {name: [value] for name, value in fields.items()}
    again |= {name: [row[name] for row in rows] for name in SEEN}
    back = read_entry(again, Around(units, NOW, gauged))
    assert back.uid == full.uid
    assert back.when == full.when
    assert back.flow == pytest.approx(full.flow, rel=1e-5)
    assert back.clarity_m == pytest.approx(full.clarity_m, rel=1e-5)
    assert back.water_c == pytest.approx(full.water_c, abs=1e-4)
    for name in ("run", "swung", "note", "photo", "touches", "landed", "released", "minutes"):
        assert getattr(back, name) == getattr(full, name)
    assert [one.kind for one in back.seen] == [one.kind for one in full.seen]
    assert [one.value for one in back.seen[1:]] == pytest.approx([0.9, 0.7], rel=1e-5)


NAMES = ["date", "time", "zone", "flow", "minutes", "touches", "water", "place", "uid", *SEEN]


@given(st.dictionaries(st.sampled_from(NAMES), st.lists(st.text(max_size=20), max_size=3)))
def test_nothing_that_can_be_sent_does_more_than_be_refused(fields):
    with pytest.raises(TypedError) as told:
        read_entry(fields, US)
    assert told.value.faults
