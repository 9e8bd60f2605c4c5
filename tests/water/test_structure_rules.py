"""The rules of structure one by one, on made water where each is there or not."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import Point, box

from reachmap.base.words import (
    Confidence,
    Wet,
)
from reachmap.base.words_runs import StructureKind, Support
from reachmap.markup.model import Origin, StructureMark
from reachmap.water.follow import follow_structure
from reachmap.water.lies import lie_odds
from reachmap.water.read_water import read_water
from reachmap.water.settings import WaterSettings
from reachmap.water.structure import find_structure
from reachmap.water.structure_rows import structure_confidence
from reachmap.water.structure_settings import LieSettings, StructureSettings
from tests.water.scenes import as_field, from_mask

pytestmark = pytest.mark.compiled

LIES, RULES = LieSettings(), StructureSettings()
SHAPE = (40, 120)
ROWS, COLS = np.mgrid[: SHAPE[0], : SHAPE[1]]
S, N = (COLS - 60) * 2.0, (19.5 - ROWS) * 2.0
"""Metres down the river and to river left from the middle; 60 m of water."""


def wide():
    wet = np.zeros(SHAPE, dtype=bool)
    wet[5:35] = True
    return wet


def read(*, deeper=0.0, speed=None, wet=None, depth=1.0):
    """Return field, lies and structure of water that much deeper here and there [m]."""
    mask, deep = wide() if wet is None else wet, np.broadcast_to(depth + deeper, SHAPE)
    pace = np.maximum(deep, 0.05) ** (2 / 3) if speed is None else speed
    ground, flow = from_mask(mask & (deep > 0.02), depth=deep, speed=pace)
    # what is dry is as high as it is drawn
    height = ground["bed"].where(~mask | (deep > 0.02), ground["bed"] - 1 - deep)
    ground = ground.assign(bed=height)
    field = as_field(ground, flow)
    lies = lie_odds(field, ground, LIES)
    return field, lies, find_structure(field, lies, LIES, RULES)


def kinds(**more):
    return {one.kind for one in read(**more)[2]}


def bell(along, across, s=0.0, n=0.0):
    return np.exp(-(((S - s) / along) ** 2) - ((N - n) / across) ** 2)


def test_even_water_has_none():
    assert kinds() == set()


def test_a_round_hollow_is_a_bucket_a_long_one_a_slot():
    assert kinds(deeper=0.8 * bell(6, 6)) == {StructureKind.BUCKET}
    assert kinds(deeper=0.8 * bell(40, 5)) == {StructureKind.SLOT}


@pytest.mark.parametrize(("deep", "there"), [(0.15, False), (0.8, True)])
def test_a_shallow_hollow_is_none(deep, there):
    assert bool(kinds(deeper=deep * bell(6, 6))) is there


def test_a_hollow_from_bank_to_bank_is_a_pool_and_no_structure_but_below_a_ledge():
    whole = 0.8 * bell(11, 1e4)
    hollows = {StructureKind.BUCKET, StructureKind.SLOT, StructureKind.LEDGE_POOL}
    assert not kinds(deeper=whole) & hollows
    step = 0.5 * np.clip((S + 80) / 70, 0, 1) * (S < -10)  # the bed rises to a ledge at -10 m
    assert kinds(deeper=whole - step) & hollows == {StructureKind.LEDGE_POOL}


def test_a_bucket_below_a_ledge_is_still_a_bucket():
    step = 0.8 * np.clip((S + 80) / 70, 0, 1) * (S < -12)
    found = read(deeper=0.9 * bell(7, 7) - step)[2]
    assert StructureKind.BUCKET in {one.kind for one in found}
    assert StructureKind.LEDGE_POOL not in {one.kind for one in found}


def test_a_broad_closed_hollow_is_no_bucket():
    narrow = wide() & (np.abs(N) < 8)
    assert StructureKind.BUCKET in kinds(deeper=0.9 * bell(7, 4), wet=narrow)
    assert StructureKind.BUCKET not in kinds(deeper=0.9 * bell(7, 8), wet=narrow)


def test_the_side_of_a_bucket_is_no_drop_off():
    flat = 0.7 * np.clip((12.0 - np.hypot(S, N)) / 3.0, 0, 1)
    assert StructureKind.DROP_OFF not in kinds(deeper=flat)


def shelf(over=4.0):
    """Return how much deeper than a shelf on river left the bed is [m]."""
    return 0.7 * np.clip(0.5 - N / over, 0, 1)


def test_a_shelf_under_water_has_a_drop_off():
    assert kinds(deeper=shelf(), depth=0.5) == {StructureKind.DROP_OFF}
    assert kinds(deeper=shelf(over=50.0), depth=0.5) == set()


def test_a_dry_bar_has_none():
    deep = np.where(N > 22, 1.0, shelf() - 0.05)  # a dry bar with water on both sides
    assert StructureKind.DROP_OFF not in kinds(deeper=deep, depth=0.0)
    assert StructureKind.DROP_OFF in kinds(deeper=np.where(N > 22, 1.0, shelf() + 0.1), depth=0.0)


def test_a_drop_counts_that_faces_down_the_river_and_not_one_that_faces_up():
    falls = 0.7 * np.clip(0.5 + S / 4.0, 0, 1)
    assert StructureKind.DROP_OFF in kinds(deeper=falls, depth=0.6)
    assert StructureKind.DROP_OFF not in kinds(deeper=0.7 - falls, depth=0.6)


def behind(*, tall=0.7, width=4.0, slack=0.2):
    """Return a boulder's depth, and speed with slack water below it."""
    stone = tall * ((np.abs(S) < width / 2) & (np.abs(N) < width / 2))
    lee = (S > 2) & (S < 12) & (np.abs(N) < 3)
    return {"deeper": -stone, "speed": np.where(lee, slack, 1.0)}


def test_a_boulder_has_a_lee_where_the_water_is_slack_below_it():
    assert kinds(**behind()) == {StructureKind.BOULDER_LEE}
    assert kinds(**behind(slack=0.9)) == set()
    assert kinds(**behind(tall=0.15)) == set()
    assert StructureKind.BOULDER_LEE not in kinds(**behind(width=20.0))  # a bar


def test_boulders_close_together_are_a_garden():
    stones = sum(
        0.7 * (np.hypot(S - s, N - n) < 2.2)
        for s, n in ((0, 0), (9, 4), (10, -6), (18, 0), (26, 6))
    )
    found = read(deeper=-np.minimum(stones, 0.7))[2]
    assert {one.kind for one in found} == {StructureKind.ROCK_GARDEN}
    pair = sum(0.7 * (np.hypot(S - s, N) < 2.2) for s in (0, 9))
    assert StructureKind.ROCK_GARDEN not in kinds(deeper=-pair)


def point(*, out=10.0, length=40.0, main=1.0, slack=0.1, stands=True):
    """Return water below a point of the left bank that stands so far out [m]."""
    wet = wide()
    if stands:
        wet &= ~((np.abs(S + 30) < 4) & (29 - out < N))
    eddy = (S > -26) & (-26 + length > S) & (29 - out < N)
    return {"wet": wet, "speed": np.where(eddy, slack * main, main)}


def test_slack_water_below_a_point_is_an_eddy():
    assert kinds(**point()) == {StructureKind.EDDY_LINE}


def test_without_a_point_or_quick_water_or_width_there_is_none():
    assert kinds(**point(stands=False)) == set()
    assert kinds(**point(main=0.2)) == set()
    assert kinds(**point(out=2.0, length=80.0)) == set()


def test_unknown_water_beside_it_makes_a_structure_less_sure():
    field, lies, (bucket,) = read(deeper=0.8 * bell(6, 6))
    score = WaterSettings().score
    assert structure_confidence(field, lies, bucket, Support.DEM, score) is Confidence.GOOD
    field.unknown[bucket.place][0, 0] = True
    assert structure_confidence(field, lies, bucket, Support.DEM, score) is Confidence.FAIR


def test_nothing_is_seen_of_a_bed_that_nobody_knows():
    wet = wide()
    ground, flow = from_mask(wet, depth=1.0 + 0.8 * bell(6, 6), speed=0.8)
    codes = flow["wet"].to_numpy().copy()
    codes[0][wet & (np.abs(S) < 20)] = Wet.UNKNOWN
    field = as_field(ground, flow.assign(wet=(flow["wet"].dims, codes)))
    lies = lie_odds(field, ground, LIES)
    assert find_structure(field, lies, LIES, RULES) == []


def mark(s, n, *, kind=StructureKind.BUCKET, flow=50.0):
    """Return the angler's mark at a place of the made water, whose flow is 50 m3/s."""
    ground, _ = from_mask(wide())
    x = float(ground["x"].to_numpy()[60]) + s
    y = float(ground["y"].to_numpy()[0]) - 19.5 * 2.0 + n
    return StructureMark(Point(x, y), kind, flow, "")


def marked(marks, *, confidence, deeper=0.0, speed=1.0):
    """Return the rows of water whose bed is known so well, with the angler's marks."""
    ground, flow = from_mask(wide(), depth=1.0 + deeper, speed=speed)
    ground["confidence"][:] = confidence
    return read_water(ground, flow, WaterSettings(), marks=marks)


def test_a_mark_shows_what_a_guessed_bed_alone_may_not():
    hollow = 0.8 * bell(6, 6)
    assert marked([], confidence=0.4, deeper=hollow).layers["structure"].empty
    rows = marked([mark(4, 2)], confidence=0.25, deeper=hollow).layers["structure"]
    assert list(rows["kind"]) == [StructureKind.BUCKET]
    assert list(rows["support"]) == [Support.MARK]
    assert list(rows["confidence"]) == [Confidence.FAIR]
    assert rows["relief_m"].notna().all()
    known = marked([mark(4, 2)], confidence=0.9, deeper=hollow).layers["structure"]
    assert list(known["support"]) == [Support.DEM]


def test_a_mark_of_another_kind_is_another_structure():
    near = marked([mark(2, 0, kind=StructureKind.SLOT)], confidence=0.25, deeper=0.8 * bell(6, 6))
    rows = near.layers["structure"]
    assert list(rows["kind"]) == [StructureKind.SLOT]
    assert rows["relief_m"].isna().all()


def test_forms_of_a_guessed_bed_raise_no_odds():
    for deeper in (0.9 * bell(5, 5), shelf()):
        known, guessed = (
            marked([], confidence=sure, deeper=deeper, speed=0.5).lies for sure in (0.9, 0.4)
        )
        assert known.odds.max() > 3 * guessed.odds.max()
        assert known.bed_known.all()
        assert not guessed.bed_known.any()


def test_the_fly_passes_through_water_of_the_seasons_limits_alone():
    def swing(depth):
        ground, flow = from_mask(wide(), depth=depth + 0.8 * bell(6, 6), speed=0.6)
        return read_water(ground, flow, WaterSettings()).layers["structure"]["swing_depth_m"]

    assert swing(0.9).notna().all()
    assert swing(2.0).isna().all()  # winter's water is 1.8 m deep at most


def test_a_mark_where_the_map_shows_nothing_is_a_structure_of_its_own():
    reading = marked([mark(20, -8), mark(-30, 6, kind=StructureKind.SLOT)], confidence=0.4)
    rows = reading.layers["structure"]
    assert list(rows["kind"]) == [StructureKind.SLOT, StructureKind.BUCKET]
    assert rows["relief_m"].isna().all()
    assert rows["holds"].all()
    assert (reading.lies.odds[reading.lies.marked > 0] > 3 * reading.lies.odds.min()).all()


def test_a_mark_tells_of_the_flow_it_was_noted_at():
    fast = {"confidence": 0.4, "speed": 2.5}
    assert marked([mark(0, 0)], **fast).layers["structure"]["holds"].all()
    other = marked([mark(0, 0, flow=150.0), mark(20, 0, flow=np.nan)], **fast)
    assert not other.layers["structure"]["holds"].any()


def test_a_mark_of_the_log_supports_but_gives_no_place_away():
    log = replace(mark(4, 2), origin=Origin.LOG)
    there = marked([log], confidence=0.4, deeper=0.8 * bell(6, 6))
    assert list(there.layers["structure"]["support"]) == [Support.MARK]
    alone = marked([log], confidence=0.4)
    assert alone.layers["structure"].empty
    assert alone.lies.odds[alone.lies.marked > 0].min() > 3 * alone.lies.odds.min()


def test_a_mark_on_dry_ground_is_nothing():
    assert marked([mark(0, 36)], confidence=0.9).layers["structure"].empty


def row(flow, kind, place, *, holds=True):
    return {"flow": flow, "kind": kind, "holds": holds, "station_m": place, "code": "",
            "geometry": box(place, 0, place + 10, 8)}  # fmt: skip


def test_one_place_with_two_kinds_is_two_structures():
    rows = [row(10.0, "bucket", 5.0), row(20.0, "boulder_lee", 5.0), row(30.0, "bucket", 8.0)]
    rows += [row(30.0, "bucket", 200.0), row(40.0, "bucket", 8.0, holds=False)]
    followed = follow_structure(gpd.GeoDataFrame(rows, crs="EPSG:32607"), 6.0)
    assert list(followed["code"]) == ["H1", "H2", "H1", "H3", "H1"]
    first = followed[followed["code"] == "H1"]
    assert set(first["holds_from_m3_s"]) == {10.0}
    assert set(first["holds_to_m3_s"]) == {30.0}


def test_no_structure_at_all_is_followed_too():
    empty = gpd.GeoDataFrame(
        {name: pd.Series(dtype=float) for name in ("flow", "station_m")}
        | {"kind": pd.Series(dtype=str), "holds": pd.Series(dtype=bool)},
        geometry=[], crs="EPSG:32607",
    )  # fmt: skip
    assert follow_structure(empty, 6.0).empty
