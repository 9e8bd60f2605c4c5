"""Rows of a file: everything wrong with each is named; a note of no fishing counts as none."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from reachmap.logbook.exchange import from_csv, from_geojson
from reachmap.logbook.join import RunPlace, join_trips
from reachmap.logbook.model import Entry, SeenKind
from reachmap.logbook.rows import RowsError, entries_of_rows
from reachmap.logbook.stats import tally_all

WHEN = datetime(2031, 1, 5, 8, 30, tzinfo=UTC)
GOOD = {"when": "2031-01-05T08:30:00-08:00"}
EDGE = {"kind": "edge", "longitude": -141.0, "latitude": 46.2}


def told(values):
    with pytest.raises(RowsError) as error:
        entries_of_rows([("row 2", values)])
    return str(error.value)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "when is 'None', not a day and time"),
        ({"when": "2031-01-05T08:30:00"}, "when has no time zone"),
        (GOOD | {"zone": "Nowhere/Land"}, "zone is 'Nowhere/Land', not a time zone"),
        (GOOD | {"touches": "2.5"}, "touches is '2.5', not a whole number"),
        (GOOD | {"touches": "-1"}, "touches is -1, wants 0 to 1000"),
        (GOOD | {"longitude": "1e9"}, "x is 1e+09, wants -180 to 180"),
        (GOOD | {"flow_m3_s": "inf"}, "flow is inf"),
        (GOOD | {"seen": "{}"}, "seen is no list"),
        (GOOD | {"seen": "[" * 5000}, "seen is no list"),
        (
            GOOD | {"seen": [EDGE | {"kind": "shark"}]},
            "seen, number 1: kind is 'shark', wants one of",
        ),
        (GOOD | {"seen": [EDGE, {"kind": "edge"}]}, "seen, number 2: 'longitude' is missing"),
        (GOOD | {"seen": [EDGE | {"kind": "sounding"}]}, "seen, number 1: sounding is nan"),
        (GOOD | {"seen": [EDGE | {"latitude": 95}]}, "is not a longitude and latitude"),
    ],
)
def test_what_is_wrong_with_a_row_is_named(values, words):
    assert words in told(values)


def test_all_faults_of_one_row_are_named_at_once():
    message = told({"when": "soon", "minutes": "some", "touches": "few", "seen": "none"})
    assert "4 things" in message
    for words in ("when is 'soon'", "minutes is 'some'", "touches is 'few'", "seen is no list"):
        assert words in message


def test_a_page_s_columns_alone_are_enough():
    seen = json.dumps([EDGE | {"kind": "hold", "value": None, "note": "bucket: below the rock"}])
    (entry,) = entries_of_rows([("row 2", GOOD | {"uid": "page-1", "seen": seen, "minutes": "0"})])
    assert (entry.uid, entry.touches, entry.run) == ("page-1", 0, "")
    assert entry.seen[0].kind is SeenKind.HOLD


def test_a_note_of_no_fishing_is_no_trip_to_a_run():
    note = Entry(WHEN, minutes=0.0)
    touch = Entry(WHEN, touches=1, minutes=0.0)
    trip = Entry(WHEN)
    assert [one.is_fishing for one in (note, touch, trip)] == [False, True, True]
    assert tally_all([note, touch, trip]).trips == 2
    assert tally_all([note]).trips == 0


def test_a_note_that_lies_in_no_run_is_not_missed():
    note, trip = Entry(WHEN, minutes=0.0), Entry(WHEN, run="Elsewhere")
    joined = join_trips([note, trip], [RunPlace("Upper bar")])
    assert joined.unplaced == (trip,)


@pytest.mark.parametrize(("read", "text"), [(from_csv, "when\nsoon\n"), (from_geojson, None)])
def test_both_files_are_read_by_the_same_rules(read, text):
    rows = {"features": [{"geometry": None, "properties": {"when": "soon"}}]}
    with pytest.raises(RowsError, match="when is 'soon'"):
        read(text or json.dumps(rows))
