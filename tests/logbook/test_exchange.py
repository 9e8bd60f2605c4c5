"""The log goes out and comes back; places stay at home unless asked for."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import geopandas as gpd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.csv_cells import escaped_cell
from reachmap.logbook.exchange import RowsError, as_csv, as_geojson, from_csv, from_geojson
from reachmap.logbook.model import Entry
from tests.logbook.test_store import FULL


def _same(first: Entry, second: Entry) -> bool:
    return repr(replace(first, when=first.when.astimezone(UTC))) == repr(
        replace(second, when=second.when.astimezone(UTC))
    )


@pytest.mark.parametrize(("out", "back"), [(as_csv, from_csv), (as_geojson, from_geojson)])
def test_with_places_everything_comes_back(out, back):
    (entry,) = back(out([FULL], places=True))
    assert _same(entry, FULL)
    assert entry.when.tzinfo == FULL.when.tzinfo


@pytest.mark.parametrize(("out", "back"), [(as_csv, from_csv), (as_geojson, from_geojson)])
def test_without_asking_no_place_leaves_the_log(out, back):
    text = out([FULL])
    for digits in ("141.3", "46.2", "-141", "141.301", "812.5"):
        assert digits not in text
    (entry,) = back(text)
    nowhere = dict.fromkeys(("x", "y", "station_m"), float("nan")) | {"bank": ""}
    assert _same(entry, replace(FULL, **nowhere, seen=()))


@given(note=st.text(max_size=60).filter(lambda text: "\r" not in text and "\x00" not in text))
def test_any_text_survives_the_csv(note):
    (entry,) = from_csv(as_csv([replace(FULL, note=note)]))
    assert entry.note == note


def test_a_general_reader_opens_the_geojson(tmp_path):
    path = tmp_path / "log.geojson"
    path.write_text(as_geojson([FULL], places=True), encoding="utf-8")
    frame = gpd.read_file(path)
    assert frame.geometry[0].x == pytest.approx(-141.3)
    assert frame["run"][0] == "Bend 2 left"


def test_every_bad_row_is_named_and_nothing_is_kept():
    lines = as_csv([FULL, FULL, FULL]).splitlines()
    lines[1] = lines[1].replace("62.0", "lots")
    lines[3] = lines[3].replace("2031-01-05T08:30:00-08:00", "yesterday")
    with pytest.raises(RowsError) as told:
        from_csv("\n".join(lines))
    message = str(told.value)
    assert "2 things" in message
    assert "row 2: flow_m3_s is 'lots'" in message
    assert "row 4" in message
    assert "yesterday" in message


@pytest.mark.parametrize("text", ["", "{}", "[]", json.dumps({"features": [3]})])
def test_what_is_no_geojson_is_told(text):
    with pytest.raises(RowsError, match="cannot be read"):
        from_geojson(text)


def test_a_row_without_an_id_gets_one():
    (entry,) = from_csv("when\n2031-01-05T08:30:00+00:00\n")
    assert entry.uid
    assert entry.when == datetime(2031, 1, 5, 8, 30, tzinfo=UTC)


def test_a_row_without_an_id_has_the_same_one_when_it_is_read_again():
    text = "when,run\n2031-01-05T08:30:00+00:00,a\n2031-01-05T08:30:00+00:00,b\n"
    first, again = ([one.uid for one in from_csv(text)] for _ in range(2))
    assert first == again
    assert len(set(first)) == 2


def test_a_time_without_a_zone_is_of_the_place_that_is_named_or_refused():
    text = "when\n2031-07-05T08:30:00\n2031-01-05T08:30:00\n"
    with pytest.raises(RowsError, match="no time zone"):
        from_csv(text)
    home = ZoneInfo("America/Vancouver")  # summer time in July: a fixed offset would be wrong
    told = from_csv(text, local=lambda when: when.replace(tzinfo=home))
    assert [one.when.astimezone(UTC).hour for one in told] == [15, 16]


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
def test_lines_may_end_in_any_way(end):
    text = end.join(["uid,when,note", "1,2001-02-03T04:05:00+00:00,one", "2,2001-02-04T04:05Z,"])
    assert [entry.uid for entry in from_csv(text)] == ["1", "2"]


@pytest.mark.parametrize(
    "feature",
    [
        {"properties": None},
        {"properties": {"when": "2001-02-03T04:05Z", "zone": "America"}},
        {"properties": {"when": "2001-02-03T04:05Z", "zone": "/etc/passwd"}},
        {"properties": {"when": "2001-02-03T04:05Z", "seen": [1]}},
        {"properties": {"when": "2001-02-03T04:05Z", "flow_m3_s": 10**400}},
        {"properties": {"when": "0001-01-01T00:00Z", "zone": "America/Vancouver"}},
    ],
)
def test_an_odd_feature_is_a_fault_and_no_trace(feature):
    with pytest.raises(RowsError):
        from_geojson(json.dumps({"type": "FeatureCollection", "features": [feature]}))


@pytest.mark.parametrize("geometry", [None, [1], {"coordinates": [1]}, {"coordinates": "x"}])
def test_a_geometry_that_is_no_place_leaves_the_place_open(geometry):
    feature = {"properties": {"when": "2001-02-03T04:05Z"}, "geometry": geometry}
    (entry,) = from_geojson(json.dumps({"features": [feature]}))
    assert math.isnan(entry.x)


def test_a_cell_beyond_all_measure_is_a_fault_and_no_trace():
    with pytest.raises(RowsError, match="cannot be read"):
        from_csv("uid,when\n1," + "x" * 200_000)


@pytest.mark.parametrize("text", ["=1+1", "\u00a0\uff1dSUM(A1)", "'=1", "+49", "-", "@x", "'plain"])
def test_text_that_looks_like_a_formula_is_guarded_and_comes_back(text):
    entry = replace(FULL, run=text, swung=text, photo=text, note=f"{text}\r\n{text}", seen=())
    told = as_csv([entry])
    cells = next(csv.DictReader(io.StringIO(told, newline="")))
    assert cells["run"] == escaped_cell(text)
    (back,) = from_csv(told)
    assert (back.run, back.swung, back.photo, back.note) == (text, text, text, entry.note)
    assert cells["minutes"] == "55.0"
