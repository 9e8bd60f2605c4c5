"""The score in the table of runs by flow."""

import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import Point

from reachmap.angler.interception.density import Presence
from reachmap.angler.interception.join import with_odds
from reachmap.angler.interception.swept import Swept
from reachmap.angler.settings import AnglerSettings
from reachmap.base.schema import table_frame
from reachmap.base.words import WayIn
from reachmap.markup.plan_parts import Outing
from tests.angler.test_short_list import run_row

SETTINGS = AnglerSettings()
SHAPE = (20, 400)
CELLS = SHAPE[0] * SHAPE[1]
BIN = SETTINGS.interception.bin_m


def stand(name, station, **more):
    """Return a place: on foot, a cast of 20 m and 30 s of swing."""
    return {
        "water": name,
        "flow_label": "50",
        "flow": 50.0,
        "side": "left",
        "station_m": float(station),
        "cast": "double spey",
        "access": WayIn.FOOT.value,
        "cast_m": 20.0,
        "swing_s": 30.0,
        "geometry": Point(station, 0),
        **more,
    }


def run_of(name, start, count, **more):
    """Return places down a bank."""
    return [stand(name, start + BIN * k, **more) for k in range(count)]


def meeting(stands, seconds=3.0, rows=10):
    """Return a channel in which fish pass evenly; each place covers its own stretch of bank."""
    grid = np.arange(CELLS).reshape(SHAPE)
    flat = np.full(CELLS, 0.05)
    blocks = [grid[:rows, int(s["station_m"]) : int(s["station_m"] + BIN)].ravel() for s in stands]
    place = np.concatenate([np.full(block.size, k) for k, block in enumerate(blocks)])
    cell = np.concatenate([np.sort(block) for block in blocks])
    swept = Swept(place, cell, np.full(cell.size, seconds), len(stands))
    return Presence(SHAPE, 1.0, np.arange(CELLS), flat, flat, np.zeros(CELLS)), swept


def scored(stands, names, outing=None, meet=None, only=None, in_shape=None):
    """Return table by run, and places."""
    [(found, places)] = scored_for(stands, names, [outing or Outing()], meet, only, in_shape)
    return found.set_index("run"), places


def scored_for(stands, names, outings, meet=None, only=None, in_shape=None):
    """Return table and places for each outing; `in_shape` tells of runs whether they are."""
    shape = dict.fromkeys(names, True) | (in_shape or {})
    rows = [run_row(name, in_shape=shape[name]) for name in names]
    table = table_frame("runs_by_flow", rows)
    water = gpd.GeoDataFrame(
        {"run": names, "flow_label": ["50"] * len(names), "code": names},
        geometry=[Point(0, 0)] * len(names),
    )
    frame = gpd.GeoDataFrame(stands, geometry="geometry", crs="EPSG:32610")
    met = meet or (lambda _: meeting(stands))
    return with_odds(table, water, frame, met, outings, SETTINGS, only=only)


def test_like_runs_score_alike_and_the_best_is_a_hundred():
    found, _ = scored([*run_of("a", 0, 20), *run_of("b", 200, 20)], ["a", "b"])
    assert found["odds"].tolist() == pytest.approx([100.0, 100.0])
    assert found["odds_hour"].iloc[0] == pytest.approx(found["odds_hour"].iloc[1])
    assert found["rank_low"].tolist() == [1, 1]
    assert found["rank_high"].tolist() == [2, 2]  # what is equal is called equal


def test_half_the_water_reached_is_half_the_odds():
    stands = [*run_of("a", 0, 20), *run_of("b", 200, 20)]

    def meet(_):
        presence, swept = meeting(stands)
        keep = (swept.place < 20) | (swept.cell // SHAPE[1] < 5)
        return presence, Swept(swept.place[keep], swept.cell[keep], swept.seconds[keep], 40)

    found, places = scored(stands, ["a", "b"], meet=meet)
    assert found.loc["b", "odds"] == pytest.approx(50.0)
    # the map of so few places does not tell a half from the whole
    assert found["rank_low"].tolist() == [1, 1]
    assert found["rank_high"].tolist() == [2, 2]
    assert found["odds_low"].iloc[1] < 50.0 < found["odds_high"].iloc[1]
    assert places["odds"].max() == pytest.approx(100.0)
    assert places["odds"].iloc[25] == pytest.approx(50.0)


def test_perfect_water_without_a_place_scores_nothing():
    found, places = scored([*run_of("a", 0, 20), *run_of("b", 200, 20, cast=None)], ["a", "b", "c"])
    assert math.isnan(found.loc["b", "odds"])
    assert math.isnan(found.loc["c", "odds"])
    assert found.loc["b", "rank_low"] == 0
    assert places["odds"].iloc[20:].isna().all()


def test_places_by_boat_count_for_those_who_have_one():
    stands = run_of("a", 0, 20, access=WayIn.BOAT.value)
    assert math.isnan(scored(stands, ["a"])[0].loc["a", "odds"])
    assert scored(stands, ["a"], Outing(boat=True))[0].loc["a", "odds"] == pytest.approx(100.0)


def test_of_a_bank_named_only_its_own_places_count():
    stands = run_of("a", 0, 20)
    assert scored(stands, ["a"], Outing(bank="left"))[0].loc["a", "odds"] == pytest.approx(100.0)
    assert math.isnan(scored(stands, ["a"], Outing(bank="right"))[0].loc["a", "odds"])


def test_everyone_scored_together_has_the_score_of_one_alone():
    stands = [*run_of("a", 0, 20), *run_of("b", 200, 20, access=WayIn.BOAT.value)]
    asked = []

    def meet(label):
        asked.append(label)
        return meeting(stands)

    outings = [Outing(), Outing(boat=True), Outing(bank="right"), Outing(boat=True, bank="left")]
    alone = [scored(stands, ["a", "b"], one) for one in outings]
    together = scored_for(stands, ["a", "b"], outings, meet)
    assert asked == ["50"]  # where the fish are is looked up once
    assert len({str(table["odds"].tolist()) for table, _ in together}) == 3
    for (table, places), (own, mine) in zip(together, alone, strict=True):
        pd.testing.assert_frame_equal(table.set_index("run"), own)
        assert places["odds"].to_numpy() == pytest.approx(mine["odds"].to_numpy(), nan_ok=True)


def test_the_prime_stretch_and_its_minutes_are_told():
    found, _ = scored(run_of("a", 0, 60), ["a"])
    row = found.loc["a"]
    length = row["prime_end_m"] - row["prime_start_m"]
    assert SETTINGS.interception.prime_low_m <= length <= SETTINGS.interception.prime_high_m
    # 30 s swing, the hang, 20 s to cast, and half a second a foot for the line over 50 ft
    each = 30 + SETTINGS.pace.hang_s + 20 + 0.5 * (20.0 - SETTINGS.pace.held_m) / 0.3048
    casts = round(BIN / SETTINGS.pace.step_winter_m) * length / BIN
    assert row["prime_minutes"] == pytest.approx(casts * each / 60, rel=1e-6)


def test_a_flow_of_which_nothing_is_known_has_no_odds():
    found, places = scored(run_of("a", 0, 20), ["a"], meet=lambda _: None)
    assert found["odds_hour"].isna().all()
    assert places["odds"].isna().all()
    assert scored(run_of("a", 0, 20), ["a"], only="60")[0]["odds"].isna().all()


def test_a_scrap_is_ranked_with_no_other_and_no_run_is_measured_by_it():
    # seven places next to each other: less than forty yards of bank, and the best water there is
    scrap, long = run_of("a", 0, 7), run_of("b", 200, 20)
    stands = [*scrap, *long, *run_of("c", 310, 8)]

    def meet(_):
        presence, swept = meeting(stands)
        keep = (swept.place < len(scrap)) | (swept.cell // SHAPE[1] < 2)
        return presence, Swept(
            swept.place[keep], swept.cell[keep], swept.seconds[keep], swept.count
        )

    found, _ = scored(stands, ["a", "b", "c"], meet=meet)
    assert found.loc["a", "odds_hour"] > found.loc["b", "odds_hour"]
    assert found["rank_low"].tolist() == [0, 1, 1]
    assert found["rank_high"].tolist() == [0, 2, 2]
    assert found.loc["b", "odds"] == pytest.approx(100.0)
    assert math.isnan(found.loc["a", "odds_low"])


def test_a_run_out_of_shape_is_ranked_with_no_other():
    stands = [*run_of("a", 0, 20), *run_of("b", 200, 20)]
    found, _ = scored(stands, ["a", "b"], in_shape={"a": False})
    assert found["rank_low"].tolist() == [0, 1]
    assert found["rank_high"].tolist() == [0, 1]
    # where nothing can be gone to, the odds are over the best of all the same
    none, _ = scored(stands, ["a", "b"], in_shape={"a": False, "b": False})
    assert none["odds"].tolist() == pytest.approx([100.0, 100.0])
    assert none["rank_low"].tolist() == [0, 0]
