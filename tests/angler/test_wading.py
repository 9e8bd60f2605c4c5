from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from reachmap.angler.drift import drift_below
from reachmap.angler.rules import WadeLimit
from reachmap.angler.view import view_of
from reachmap.angler.wading import (
    CAREFUL,
    EASY,
    NO,
    NONE,
    drop_small,
    grade_water,
    graded_water,
    join_to_land,
    limit_for,
    limit_ratio,
    stricter_of,
)
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.words import COVER_CODES, Cover, HazardKind
from reachmap.markup.model import Hazard
from tests.angler.hand import KIT, flat_view, mirrored
from tests.made import made_flows, made_ground

WADE = WadingSettings()
PERSON = KIT.angler
GROUND = made_ground(length=300)
FLOW = made_flows(GROUND, {20.0: -0.6})
VIEW = view_of(GROUND, FLOW)
PLAIN = replace(WADE, doubt=0.0, smooth_m=0.0)
"""No margin at all: what is mapped is graded."""


def pond(rows, *, depth=0.2, speed=0.1, cell=2.0):
    """Return a view drawn in letters: `#` land, `.` shallow, `:` deeper, `X` too deep, `?` unknown,
    `o` an island."""
    grid = np.array([list(row) for row in rows])
    view = flat_view(size=1, cell=cell)
    shape, wet = grid.shape, np.isin(grid, [".", ":", "X"])
    deep = np.select([grid == ".", grid == ":", grid == "X"], [depth, 0.55, 2.0], np.nan)
    dry = np.isin(grid, ["#", "o"])
    full = {
        "grid": replace(view.grid, shape=shape),
        "wet": wet,
        "dry": dry,
        "unknown": grid == "?",
        "level": np.where(wet, 100.0, np.nan),
        "depth": deep,
        "east": np.where(wet, speed, np.nan),
        "north": np.where(wet, 0.0, np.nan),
        "bed": np.where(wet, 100.0 - deep, np.where(dry, 100.2, np.nan)),
        "surface": np.where(wet, 100.0 - deep, np.where(dry, 100.2, np.nan)),
        "cover": np.full(shape, COVER_CODES[Cover.GRAVEL], np.uint8),
        "confidence": np.where(grid == "?", np.nan, 1.0),
        "station": np.tile(np.arange(shape[1]) * cell, (shape[0], 1)),
        "offset": np.zeros(shape),
        "wet_on_terrain_day": np.zeros(shape, dtype=bool),
        "length": shape[1] * cell,
        "land": grid == "#",
        "side": np.where(grid == "#", 1, 0).astype(np.int32),
    }
    return replace(view, **full)


def grades(view, *, hazards=(), settings=PLAIN):
    """Return the grades of a view in letters: easy e, careful c, no n, unknown u, dry -."""
    small = replace(settings, zone_low_m2=0.0)
    code = grade_water(view, tuple(hazards), PERSON, small).grade
    return ["".join("-ecnu"[c] for c in row) for row in code]


@given(
    depth=st.floats(0, 2),
    speed=st.floats(0, 3),
    deeper=st.floats(0, 1),
    quicker=st.floats(0, 1),
)
def test_deeper_or_quicker_water_strains_more(depth, speed, deeper, quicker):
    limit = limit_for(PERSON, WADE)
    here = limit_ratio(np.array(depth), np.array(speed), limit)
    assert limit_ratio(np.array(depth + deeper), np.array(speed + quicker), limit) >= here


def test_every_limit_closes_the_water_by_itself():
    limit = WadeLimit(0.5, 1.0, 2.0)
    depth, speed = np.array([1.01, 0.1, 0.6, 0.5]), np.array([0.0, 2.01, 0.9, 0.9])
    assert (limit_ratio(depth, speed, limit) > 1).tolist() == [True, True, True, False]


def test_a_person_stands_no_deeper_than_their_own_limit():
    bold, shy = replace(PERSON, wade_limit_m=1.6), replace(PERSON, wade_limit_m=0.6)
    assert limit_for(shy, WADE).depth_m == 0.6
    assert limit_for(bold, WADE).depth_m == pytest.approx(0.5 * bold.height_m)


def test_what_is_not_known_is_unknown():
    rows = ["####", "....", "XXXX"]
    for name in ("depth", "east", "confidence"):
        view = pond(rows)
        gone = getattr(view, name).copy()
        gone[1, 1] = np.nan
        assert grades(replace(view, **{name: gone}))[1] == "euee"


@given(seed=st.integers(0, 10_000))
def test_taking_knowledge_away_never_opens_water(seed):
    rng = np.random.default_rng(seed)
    gone = rng.random(VIEW.wet.shape) < 0.05
    before = grade_water(VIEW, (), PERSON, WADE).grade
    blind = replace(VIEW, confidence=np.where(gone, np.nan, VIEW.confidence))
    after = grade_water(blind, (), PERSON, WADE).grade
    opened = (after <= CAREFUL) & (after != NONE)
    was = (before <= CAREFUL) & (before != NONE)
    assert not (opened & ~was).any()
    assert not (opened & gone).any()


@given(confidence=st.floats(0.2, 1.0), less=st.floats(0.2, 1.0))
def test_less_confidence_never_opens_water(confidence, less):
    sure, unsure = (
        grade_water(replace(VIEW, confidence=np.full(VIEW.wet.shape, one)), (), PERSON, WADE).grade
        for one in (confidence, max(confidence * less, WADE.unsure_low))
    )
    assert (unsure[VIEW.wet] >= sure[VIEW.wet]).all()


def test_the_mirrored_river_grades_the_same():
    here = grade_water(VIEW, (), PERSON, WADE).grade
    there = grade_water(mirrored(VIEW), (), PERSON, WADE).grade
    assert (there == here[::-1]).all()


def test_water_joined_to_the_bank_by_water_of_its_grade_counts_and_the_rest_does_not():
    rows = [
        "########",
        "..:.XX..",
        "..:.XX..",
        "XXXXXXXX",
        "XX.ooXXX",
        "XX.ooXXX",
        "XXXXXXXX",
    ]
    assert grades(pond(rows)) == [
        "--------",
        "eecennee",
        "eecennee",
        "nnnnnnnn",
        "nnn--nnn",
        "nnn--nnn",
        "nnnnnnnn",
    ]


def test_easy_water_behind_careful_water_is_careful():
    rows = ["####", "::::", "....", "XXXX"]
    assert grades(pond(rows)) == ["----", "cccc", "cccc", "nnnn"]


def test_an_island_joined_by_easy_water_is_open_and_its_far_side_too():
    rows = ["####", "....", "oooo", "....", "XXXX"]
    assert grades(pond(rows)) == ["----", "eeee", "----", "eeee", "nnnn"]


def test_unknown_water_joins_nothing():
    rows = ["####", "????", "....", "XXXX"]
    assert grades(pond(rows)) == ["----", "uuuu", "nnnn", "nnnn"]


def test_corners_do_not_join():
    land, dry = np.array([[True, False], [False, False]]), np.zeros((2, 2), bool)
    grade = np.array([[NONE, NO], [NO, EASY]], dtype=np.uint8)
    assert join_to_land(grade, land, dry | land)[1, 1] == NO


def test_a_strainer_closes_the_water_that_drifts_into_it():
    rows = ["#" * 40, "." * 40, "X" * 40]
    view = pond(rows)
    log = Hazard(
        Point(*view.grid.points(np.array([1]), np.array([30]))[0]), HazardKind.STRAINER, "log"
    )
    letters = grades(view, hazards=[log])[1]
    reach = (WADE.drift_high_m + WADE.drift_width_m) / view.cell
    assert letters[30] == "n"
    assert set(letters[int(30 - reach) + 3 : 31]) == {"n"}
    assert set(letters[: int(30 - reach) - 3]) == {"e"}
    assert letters[36] == "e"


def test_the_drift_knows_how_far_below_the_hazard_and_the_deep_water_lie():
    rows = ["#" * 40, "." * 20 + "X" * 20]
    view = pond(rows)
    where = view.grid.points(np.array([1, 0]), np.array([35, 35]))
    ledge = Hazard(LineString(where), HazardKind.LEDGE, "")
    drift = drift_below(view, view.depth > 1, (ledge,), replace(WADE, drift_width_m=0.0))
    deep_m, hazard_m, hazard = (
        one.window(slice(None), slice(None)) for one in (drift.deep_m, drift.hazard_m, drift.hazard)
    )
    assert deep_m[1, 5] == pytest.approx(15 * view.cell)
    assert hazard_m[1, 5] == pytest.approx(30 * view.cell, abs=1.5 * view.cell)
    assert hazard[1, 5] == 0
    assert np.isnan(hazard_m[1, 38])


def test_a_drift_into_unknown_water_says_so():
    view = pond(["#" * 6, "...???"])
    lost = drift_below(view, view.unknown, (), WADE).lost
    assert lost.window(slice(1, 2), slice(0, 1)).all()


def test_patches_too_small_to_stand_in_take_the_next_worse_grade():
    grade = np.full((5, 5), NO, dtype=np.uint8)
    grade[2, 2] = EASY
    grade[0, :4] = CAREFUL
    result = drop_small(grade, 3)
    assert result[2, 2] == NO
    assert (result[0, :4] == CAREFUL).all()


def test_own_limits_come_on_top_and_never_widen_a_rule():
    usual = limit_for(PERSON, WADE)
    for own in (WadeLimit(0.1, 0.3, 0.4), WadeLimit(9.0, 9.0, 9.0)):
        told = limit_for(PERSON, replace(WADE, own=own))
        assert told.product_m2_s == min(usual.product_m2_s, own.product_m2_s)
        assert told.depth_m == min(usual.depth_m, own.depth_m)
        assert told.speed_m_s == min(usual.speed_m_s, own.speed_m_s)


def test_a_body_mass_that_was_given_counts():
    # poor conditions: 0.002 H M + 0.1 (Karvonen and others 2000, from memory)
    told = limit_for(PERSON, replace(WADE, mass_kg=90.0))
    assert told.product_m2_s == pytest.approx(0.002 * PERSON.height_m * 90 + 0.1)


def test_between_two_flows_no_cell_grades_better_than_at_either():
    view = pond(["#" * 24, *["." * 24] * 8])
    mine = grade_water(view, (), PERSON, PLAIN)
    same = graded_water(view, (), PERSON, PLAIN)
    assert (same.grade == mine.grade).all()
    worse = same._replace(grade=np.where(mine.grade == NONE, NONE, NO).astype(np.uint8))
    assert (mine.grade == EASY).any()
    assert not (stricter_of(view, mine, [worse], PLAIN).grade == EASY).any()
    dry = same._replace(grade=np.zeros_like(mine.grade))  # where it is dry it says nothing
    assert (stricter_of(view, mine, [dry], PLAIN).grade == mine.grade).all()
    deep = same._replace(depth=same.depth + 0.4)
    water = np.flatnonzero(mine.grade != NONE)
    got = stricter_of(view, mine, [deep], PLAIN).depth.at(water)
    assert got == pytest.approx(mine.depth.at(water) + 0.4)
