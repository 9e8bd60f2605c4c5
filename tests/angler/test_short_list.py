"""The day's short list: who is on it, in which order, and why the others are not."""

import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import Point

from reachmap.angler.short_list import LOOPS, STAND, ListSettings, list_choices
from reachmap.base.schema import table_frame
from reachmap.base.words import CastFit, Lack, WayIn
from reachmap.base.words_runs import Mind, Shut
from reachmap.markup.plan_parts import Outing

LIST = ListSettings()


def run_row(name, flow=50.0, **more):
    """Return a row of the table of runs by flow: in shape, an hour to fish."""
    return {
        "run": name,
        "flow": flow,
        "flow_label": f"{flow:g}",
        "in_shape": True,
        "why": None,
        "why_too": None,
        "kind": "even_run",
        "code": name,
        "side": "left",
        "score": 80.0,
        "depth_m": 1.0,
        "speed_m_s": 0.6,
        "prime": False,
        "instead": "",
        "instead_score": math.nan,
        "instead_m": math.nan,
        "minutes": 60.0,
        **more,
    }


def stand(name, flow=50.0, **more):
    """Return a place to stand by the water of that code: on foot, room for every cast."""
    return {
        "water": name,
        "flow_label": f"{flow:g}",
        "side": "left",
        "station_m": 100.0,
        "depth_m": 0.0,
        "room_m": 20.0,
        "cast": "double spey",
        "access": WayIn.FOOT.value,
        "odds": math.nan,
        "cut_off_m3_s": math.nan,
        "hazard_kind": None,
        "hazard_distance_m": math.nan,
        "hand_shuts": False,
        **dict.fromkeys(LOOPS, CastFit.FITS.value),
        **more,
    }


def made(runs, stands, outing=None, settings=LIST, factors=None):
    """Return the table with its short list, by run and flow."""
    table = table_frame("runs_by_flow", runs)
    water = gpd.GeoDataFrame(
        {name: [row[name] for row in runs] for name in ("run", "flow_label", "code")},
        geometry=[Point(0, 0)] * len(runs),
    )
    frame = pd.DataFrame(stands, columns=["water", "flow_label", *STAND])
    listed = list_choices(table, water, frame, outing or Outing(), settings, factors)[0]
    return listed.set_index(["run", "flow_label"])


def test_the_best_runs_are_numbered_downstream():
    names = {"low": 900.0, "high": 100.0, "middle": 500.0}
    found = made(
        [run_row(name, score=score) for name, score in zip(names, (90.0, 70.0, 80.0), strict=True)],
        [stand(name, station_m=station) for name, station in names.items()],
    )
    assert [int(found.loc[(n, "50"), "pick"]) for n in ("high", "middle", "low")] == [1, 2, 3]


def test_no_more_than_the_most_are_listed_and_poor_ones_not_beyond_the_least():
    names = [f"r{k}" for k in range(8)]
    stands = [stand(name, station_m=100.0 * k) for k, name in enumerate(names)]
    every = made([run_row(name) for name in names], stands, Outing(hours=16.0))
    assert (every["pick"] > 0).sum() == LIST.most
    poor = [run_row(n, score=90.0 if k == 0 else 5.0) for k, n in enumerate(names)]
    assert (made(poor, stands, Outing(hours=16.0))["pick"] > 0).sum() == LIST.least


def test_what_does_not_fit_the_hours_is_left_out():
    names = ["a", "b", "c"]
    stands = [stand(name, station_m=100.0 * k) for k, name in enumerate(names)]
    # two runs of an hour and the way between them take 130 minutes
    found = made([run_row(n) for n in names], stands, Outing(hours=2.2))
    assert (found["pick"] > 0).sum() == 2
    unknown = made([run_row(n, minutes=math.nan) for n in names], stands)
    assert (unknown["pick"] > 0).sum() == 0


def test_the_time_of_the_prime_stretch_counts_where_there_is_one():
    names = ["a", "b", "c"]
    stands = [stand(name, station_m=100.0 * k) for k, name in enumerate(names)]
    rows = [run_row(n, minutes=300.0, prime_minutes=60.0) for n in names]
    assert (made(rows, stands, Outing(hours=4.0))["pick"] > 0).sum() == 3


def test_the_order_is_that_of_the_odds_where_any_run_has_some():
    rows = [
        run_row("a", score=90.0, odds_hour=0.01),
        run_row("b", score=40.0, odds_hour=0.02),
        run_row("c", score=99.0),
    ]
    stands = [stand("a"), stand("b", station_m=300.0), stand("c", station_m=500.0)]
    found = made(rows, stands, Outing(hours=1.5))
    assert list(found.query("pick > 0").index.get_level_values(0)) == ["b"]
    # what has no odds is not gone to, however its water scores
    assert made(rows, stands, Outing(hours=9.0)).loc[("c", "50"), "pick"] == 0


def test_a_run_is_on_the_bank_that_gives_it_its_odds():
    stands = [stand("a", side="right", odds=80.0), *[stand("a", access="boat")] * 3]
    found = made([run_row("a", odds_hour=0.1)], stands)
    assert pd.isna(found["shut"].iloc[0])
    assert not found["by_boat"].iloc[0]


def test_one_bank_is_fished_unless_one_gets_to_both():
    rows = [run_row("l1", score=50.0), run_row("l2", score=50.0), run_row("r", score=90.0)]
    stands = [stand("l1"), stand("l2", station_m=300.0), stand("r", side="right")]
    assert list(made(rows, stands).query("pick > 0").index.get_level_values(0)) == ["l1", "l2"]
    for outing in (Outing(crossing=True), Outing(boat=True)):
        assert (made(rows, stands, outing)["pick"] > 0).all()
    mine = made(rows, stands, Outing(bank="right"))
    assert list(mine.query("pick > 0").index.get_level_values(0)) == ["r"]


def test_a_run_of_the_other_bank_alone_is_shut_for_that_or_for_what_else_is_wrong_there():
    rows = [run_row("l"), run_row("r"), run_row("boat"), run_row("island")]
    stands = [
        stand("l"),
        stand("r", side="right"),
        stand("boat", side="right", access=WayIn.BOAT.value),
        stand("island", side="island"),
    ]
    found = made(rows, stands, Outing(bank="left"))["shut"].droplevel(1)
    assert found["r"] == Shut.BANK
    assert found["boat"] == Shut.WAY
    assert found[["l", "island"]].isna().all()
    # places on both banks: those of the bank one fishes count
    both = [stand("l"), stand("l", side="right", access=WayIn.BOAT.value, odds=80.0)]
    assert pd.isna(made([run_row("l")], both, Outing(bank="left"))["shut"].iloc[0])


@pytest.mark.parametrize(
    ("row", "stands", "why"),
    [
        ({"in_shape": False, "why": Lack.QUICK.value}, [{}], Shut.SHAPE),
        ({"in_shape": False, "why": Lack.UNKNOWN.value}, [{}], Shut.UNKNOWN),
        ({}, [], Shut.STAND),
        ({}, [{"cast": None}], Shut.ROOM),
        ({}, [{"cast": None, "room_m": math.nan}], Shut.UNKNOWN),
        ({}, [{"access": WayIn.BOAT.value}], Shut.WAY),
        ({"prime_start_m": 100.0, "prime_end_m": 136.0}, [{}], Shut.SCRAP),
        ({"prime_start_m": 100.0, "prime_end_m": 137.0}, [{}], None),
    ],
)
def test_what_nobody_can_fish_is_not_listed_and_says_the_one_reason(row, stands, why):
    found = made([run_row("a", **row)], [stand("a", **one) for one in stands])
    told = found["shut"].iloc[0]
    assert (None if pd.isna(told) else told) == why
    assert bool(found["pick"].iloc[0] == 0) is (why is not None)


def test_a_run_by_boat_only_is_listed_and_marked_for_those_who_come_by_boat():
    found = made([run_row("a")], [stand("a", access=WayIn.BOAT.value)], Outing(boat=True))
    assert bool(found["by_boat"].iloc[0]) is True
    assert found["pick"].iloc[0] == 1
    mixed = made([run_row("a")], [stand("a", access=WayIn.BOAT.value), stand("a")])
    assert not mixed["by_boat"].iloc[0]


def test_a_shut_run_says_the_nearest_flow_at_which_it_opens():
    flows = (20.0, 45.0, 80.0)
    rows = [run_row("a", f, in_shape=f != 45.0, why="quick" if f == 45.0 else None) for f in flows]
    found = made(rows, [stand("a", f) for f in flows])
    # 80 is nearer to 45 than 20 is as a ratio: 1.8 and 2.25
    assert found.loc[("a", "45"), "opens_m3_s"] == 80.0
    assert math.isnan(found.loc[("a", "80"), "opens_m3_s"])
    never = made([run_row("a", in_shape=False, why="quick")], [stand("a")])
    assert math.isnan(never["opens_m3_s"].iloc[0])


@pytest.mark.parametrize(
    ("more", "mind"),
    [
        ({}, None),
        ({"depth_m": 0.8}, Mind.WADING),
        ({"depth_m": math.nan}, Mind.WADING),
        ({"room_m": 3.0}, Mind.ROOM),
        (dict.fromkeys(LOOPS, CastFit.NO.value), Mind.ROOM),
        ({"hand_shuts": True, "depth_m": 0.8}, Mind.MORE_WATER),
        ({"cut_off_m3_s": 70.0, "hand_shuts": True}, Mind.WAY_BACK),
        ({"hazard_kind": "strainer", "hazard_distance_m": 20.0, "cut_off_m3_s": 70.0}, Mind.HAZARD),
        ({"hazard_kind": "strainer", "hazard_distance_m": math.nan}, Mind.HAZARD),
        ({"hazard_kind": "strainer", "hazard_distance_m": 200.0}, None),
    ],
)
def test_the_one_thing_to_mind_is_what_matters_most(more, mind):
    found = made([run_row("a")], [stand("a"), stand("a", **more)])["mind"].iloc[0]
    assert (None if pd.isna(found) else found) == mind


def test_what_the_log_says_moves_runs_on_to_the_list_and_off_it():
    names = ["a", "b", "c"]
    stands = [stand(name, station_m=100.0 * k) for k, name in enumerate(names)]
    rows = [run_row(n, score=s) for n, s in zip(names, (90.0, 80.0, 70.0), strict=True)]
    day = Outing(hours=2.2)  # time for two
    assert made(rows, stands, day)["pick"].tolist() == [1, 2, 0]
    found = made(rows, stands, day, factors=np.array([0.7, 1.0, 1.3]))
    assert found["pick"].tolist() == [0, 1, 2]
    assert "log_factor" not in found  # the table is handed on
