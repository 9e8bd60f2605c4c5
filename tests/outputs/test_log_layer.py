"""The log on the map and in the table of runs by flow."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import geopandas as gpd
import pytest
from shapely import Point, box

from reachmap.base.crs import metric_crs
from reachmap.base.schema import LAYERS, LOG
from reachmap.logbook.join import RunPlace, join_trips
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.outputs.log_layer import COLUMNS, NOTE_LONGEST, log_columns, log_layer
from tests.logbook.test_store import FULL

CRS = metric_crs(-141.3, 46.2)
HERE = gpd.GeoSeries([Point(-141.3, 46.2)], crs="EPSG:4326").to_crs(CRS)[0]
RUNS = gpd.GeoDataFrame(
    {"run": ["Bend 2 left", "Ledge"]},
    geometry=[HERE.buffer(50), box(0, 0, 10, 10)],
    crs=CRS,
)
PLACES = [RunPlace(run, outline=o) for run, o in zip(RUNS["run"], RUNS.geometry, strict=True)]
FLOWS = {"50m3s": 50.0, "60m3s": 60.0, "120m3s": 120.0}


def laid(entries):
    return log_layer(entries, RUNS, FLOWS, CRS, join_trips(entries, PLACES, CRS))


def test_a_trip_lies_where_it_was_and_what_was_seen_where_it_was_seen():
    layer = laid([FULL])
    assert list(layer["kind"]) == ["trip", "edge", "sounding"]
    # outside judge: geopandas moves the same places itself
    places = layer.to_crs("EPSG:4326").geometry
    assert (places.iloc[0].x, places.iloc[0].y) == pytest.approx((-141.3, 46.2), abs=1e-8)
    assert (places.iloc[2].x, places.iloc[2].y) == pytest.approx((-141.302, 46.202), abs=1e-8)
    trip, edge, sounding = layer.to_dict("records")
    assert (trip["trips"], trip["touches"], trip["landed"], trip["minutes"]) == (1, 2, 1, 55.0)
    assert trip["near_label"] == "60m3s"  # 62 m3/s: within 25 % of 50 and 60, nearer to 60
    assert (edge["trips"], sounding["depth_m"]) == (0, 0.9)
    assert math.isnan(edge["depth_m"])
    assert math.isnan(sounding["speed_m_s"])


def test_trips_without_a_place_stand_at_their_run_in_one_row():
    there = replace(FULL, x=math.nan, y=math.nan, seen=(), uid="a")
    later = replace(there, uid="b", run=" LEDGE ", when=FULL.when + timedelta(days=2))
    (ledge, bend) = laid([there, later]).to_dict("records")
    assert (ledge["run"], ledge["kind"], ledge["trips"], ledge["code"]) == ("Ledge", "run", 1, "L1")
    assert ledge["geometry"].within(box(0, 0, 10, 10))
    assert (bend["date"], bend["near_label"]) == ("2031-01-05", "")
    assert bend["note"].startswith("Fished once without a place, 2 touches; 2031-01-05: ")


def test_a_run_nobody_knows_and_a_place_beyond_the_crs_are_on_no_map():
    lost = replace(FULL, x=math.nan, y=math.nan, run="elsewhere", seen=())
    far = replace(FULL, uid="far", x=39.0, y=-89.9999, seen=())
    assert set(laid([lost, far])["run"]) <= {"Bend 2 left"}
    assert len(laid([lost])) == 0


def test_unknown_flow_counts_for_none():
    blind = replace(FULL, flow=math.nan, seen=())
    (row,) = laid([blind]).to_dict("records")
    assert row["near_label"] == ""
    assert math.isnan(row["flow"])


def test_a_note_is_one_line_and_never_too_long():
    long = replace(FULL, note="a\nb\t" + "x" * 5000, seen=())
    (row,) = laid([long]).to_dict("records")
    assert len(row["note"]) == NOTE_LONGEST
    assert "\n" not in row["note"]


def test_the_log_is_none_of_the_layers_that_are_handed_on():
    assert LOG.name not in {layer.name for layer in LAYERS}
    assert list(laid([]).columns[:-1]) == [c.name for c in LOG.columns]


def test_the_table_of_runs_counts_trips_at_about_its_flow():
    trips = [replace(FULL, uid=str(n), touches=n) for n in range(1, 4)]
    trips += [Entry(when=FULL.when, run="bend 2  left", flow=58.0, touches=4)]  # no time written
    rows = [{"run": r, "flow": q} for r in ("Bend 2 left", "Ledge") for q in (60.0, 120.0)]
    near, far, other, _ = log_columns(join_trips(trips, PLACES), rows)
    assert list(near) == ["run", "flow", *COLUMNS]
    assert (near["times_fished"], near["touches"], near["landed"]) == (4, 10, 3)
    assert near["touches_per_hour"] == pytest.approx(6 / 2.75, abs=1e-3)  # timed trips only
    assert near["touches_per_hour_low"] < 6 / 2.75 < near["touches_per_hour_high"]
    assert near["log_words"].startswith(
        "fished 4 times, 10 touches; of these, 3 times with 6 touches in 2.8 h: "
    )
    for row in (far, other):
        assert (row["times_fished"], row["touches_per_hour"]) == (0, None)
        assert row["log_words"] == "not fished yet at about this flow"


def test_rates_are_drawn_together_and_say_how_much_is_the_run_s_own():
    rows = [{"run": r, "flow": q} for r in ("Bend 2 left", "Ledge") for q in (60.0, 120.0)]
    entries = [
        replace(FULL, uid=f"{run}{flow}", run=run, flow=flow, touches=n, minutes=120.0, seen=())
        for run, flow, n in (("Bend 2 left", 60.0, 6), ("Ledge", 60.0, 0), ("Ledge", 120.0, 1))
    ]
    entries = [replace(one, x=math.nan, y=math.nan) for one in entries]
    lucky, none, blank, poor = log_columns(join_trips(entries, PLACES), rows)
    assert lucky["drawn_rate"] < lucky["touches_per_hour"] == 3.0
    assert blank["touches_per_hour"] == 0.0 < blank["drawn_rate"] < poor["drawn_rate"]
    assert none["drawn_rate"] is None
    assert 0 < lucky["drawn_own_share"] < 1
    assert "from your hours here" in blank["log_words"]
    assert "from your hours here" not in none["log_words"]


def test_a_speed_is_told_as_one():
    one = replace(FULL, seen=(Seen(SeenKind.SPEED, -141.3, 46.2, 0.7),))
    row = laid([one]).to_dict("records")[1]
    assert (row["kind"], row["speed_m_s"]) == ("speed", 0.7)
