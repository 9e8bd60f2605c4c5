"""Which run a trip belongs to, when runs are cut and named anew by every build."""

from __future__ import annotations

import math
from dataclasses import replace

import geopandas as gpd
import pytest
from shapely import box

from reachmap.logbook.compare import Water, compare
from reachmap.logbook.join import NEAR_M, RunPlace, join_trips
from reachmap.logbook.model import Entry
from reachmap.logbook.stats import run_key
from reachmap.outputs.log_layer import log_columns, log_layer, unplaced_rows
from reachmap.text.log import unplaced_words
from tests.logbook.test_store import WHEN
from tests.outputs.test_log_layer import CRS, FLOWS, HERE

WEST, SOUTH = HERE.x, HERE.y


def cut(name, drawn, side, start):
    """A run of 100 m whose outline lies on its bank, stations counting east."""
    low = {"left": 0.0, "right": -20.0}[side]
    shape = box(WEST + start, SOUTH + low, WEST + start + 100.0, SOUTH + low + 20.0)
    return RunPlace(name, drawn, side, start, start + 100.0, shape)


CUTS = [
    cut("Kettle, upper", "Kettle", "left", 0.0),
    cut("Kettle, lower", "Kettle", "left", 150.0),
    cut("Kettle right", "Kettle", "right", 50.0),
    cut("Kettle Pool", "Kettle Pool", "left", 300.0),
    cut("Bend 2 left", "", "left", 500.0),
    cut("Bend 2 right edge", "", "right", 500.0),
    cut("Straight 3 left edge, upper", "", "left", 800.0),
]


def trip(name, **more):
    return Entry(when=WHEN, run=name, flow=60.0, minutes=60.0, touches=1, **more)


def at_place(east, north):
    point = gpd.GeoSeries.from_xy([WEST + east], [SOUTH + north], crs=CRS).to_crs("EPSG:4326")[0]
    return {"x": point.x, "y": point.y}


def found(entry, runs=CUTS):
    joined = join_trips([entry], runs, CRS)
    return joined.runs_of.get(entry.uid, ())


@pytest.mark.parametrize(
    ("entry", "names"),
    [
        # by name: the very run, whatever its capitals and blanks
        (trip("kettle,  LOWER"), ("Kettle, lower",)),
        # the drawn name stands for all that was cut from it, not for a longer drawn name
        (trip("Kettle"), ("Kettle, upper", "Kettle, lower", "Kettle right")),
        (trip("Kettle pool"), ("Kettle Pool",)),
        # names an older build gave: the bank's runs, else all of the outline
        (trip("Kettle right, middle"), ("Kettle right",)),
        (trip("Kettle right, 4"), ("Kettle right",)),
        (trip("Kettle, 4"), ("Kettle, upper", "Kettle, lower", "Kettle right")),
        (trip("Kettle island side, upper"), ("Kettle, upper", "Kettle, lower", "Kettle right")),
        (trip("Straight 3 left edge"), ("Straight 3 left edge, upper",)),
        # by station and bank, within the drawn name
        (trip("Kettle", station_m=180.0, bank="left"), ("Kettle, lower",)),
        (trip("Kettle", station_m=80.0, bank="right"), ("Kettle right",)),
        (trip("Kettle, upper", station_m=240.0, bank="left"), ("Kettle, lower",)),
        (trip("Kettle", station_m=550.0, bank="left"), None),  # far off: all of Kettle
        # by place
        (trip("Kettle", **at_place(200, 10)), ("Kettle, lower",)),
        (trip("Kettle", **at_place(2000, 10)), None),  # logged at home: the name holds
        (trip("Kettle Bar", **at_place(550, -5)), ("Bend 2 right edge",)),
        (trip("", **at_place(40, 15)), ("Kettle, upper",)),
        # names given by rule move when the river is drawn anew: the place holds
        (trip("Bend 1 left", station_m=550.0, bank="left"), ("Bend 2 left",)),
        (trip("Bend 2 left", station_m=850.0, bank="left"), ("Straight 3 left edge, upper",)),
        (trip("Bend 2 left"), ("Bend 2 left",)),
        # nothing is guessed
        (trip("Kettle Bar"), ()),
        (trip("Bend 2"), ()),
        (trip("Pool"), ()),
        (trip(""), ()),
        (trip("Alder", **at_place(2000, 10)), ()),
    ],
)
def test_a_trip_finds_its_run(entry, names):
    family = ("Kettle, upper", "Kettle, lower", "Kettle right")
    assert set(found(entry)) == set(family if names is None else names)


@pytest.mark.parametrize(("off", "near"), [(NEAR_M - 1, True), (NEAR_M + 1, False)])
def test_a_place_beside_a_run_belongs_to_it_within_a_phones_error(off, near):
    assert bool(found(trip("", **at_place(600 + off, 10)), CUTS[4:5])) == near
    assert bool(found(trip("", station_m=600 + off, bank="left"), CUTS[4:5])) == near


def test_every_trip_is_counted_in_a_run_or_named():
    trips = [
        trip("Kettle"),
        trip("Kettle Bar"),
        trip(""),
        trip("Kettle, lower"),
        trip("Kettle Bar"),
    ]
    joined = join_trips(trips, CUTS, CRS)
    assert len(joined.runs_of) + len(joined.unplaced) == len(trips)
    assert unplaced_words(joined).startswith(
        "3 trips could not be placed: 'Kettle Bar', no run named. "
    )
    assert unplaced_words(join_trips(trips[:1], CUTS)) == ""
    rows = unplaced_rows(joined)
    assert [(row["run"], row["times_fished"], row["touches"]) for row in rows] == [
        ("Kettle Bar", 2, 2),
        ("", 1, 1),
    ]
    many = unplaced_words(join_trips([trip(f"Alder {n}") for n in range(12)], CUTS))
    assert "'Alder 7' and 4 more. " in many


def test_the_table_counts_a_drawn_name_in_each_of_its_runs_and_says_so():
    trips = [trip("Kettle"), trip("Kettle"), trip("Kettle, lower")]
    rows = [{"run": one.name, "flow": 60.0} for one in CUTS]
    table = {row["run"]: row for row in log_columns(join_trips(trips, CUTS), rows)}
    assert [table[name]["times_fished"] for name in ("Kettle, upper", "Kettle, lower")] == [2, 3]
    assert table["Kettle right"]["log_words"].endswith(
        "; 2 trips name all of Kettle, which is 3 runs here"
    )
    assert "all of" not in table["Kettle Pool"]["log_words"]
    assert table["Bend 2 left"]["times_fished"] == 0


def test_on_the_map_a_trip_by_its_drawn_name_stands_once():
    runs = gpd.GeoDataFrame(
        {"run": [one.name for one in CUTS]}, geometry=[one.outline for one in CUTS], crs=CRS
    )
    trips = [trip("Kettle"), trip("Kettle Bar")]
    layer = log_layer(trips, runs, FLOWS, CRS, join_trips(trips, CUTS, CRS))
    assert layer[["run", "trips"]].to_numpy().tolist() == [["Kettle, upper", 1]]


def test_the_season_s_limits_count_trips_by_their_drawn_name():
    trips = [replace(trip("Kettle"), touches=6)]
    waters = {
        run_key(one.name): [Water(60.0, depth, 0.8)]
        for one, depth in zip(CUTS[:3], (1.0, 2.0, 1.5), strict=True)
    }
    told = compare(trips, join_trips(trips, CUTS), waters, (1.4, 1.6), (0.3, 0.9))
    assert (told.trips, told.touches, told.left_out) == (1, 6, 0)
    assert told.depth["within"].trips == 1  # the mean of 1.0, 2.0 and 1.5 m


def test_without_stations_or_outlines_names_alone_decide():
    bare = [replace(one, start=math.nan, end=math.nan, outline=None) for one in CUTS]
    assert found(trip("Kettle, lower", station_m=10.0, bank="left"), bare) == ("Kettle, lower",)
