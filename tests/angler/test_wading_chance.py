"""The chance of being beyond a limit, and what may be graded at all."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from reachmap.angler import odds
from reachmap.angler.braided import share_of_threads
from reachmap.angler.chance import (
    Water,
    chance_beyond,
    expected_water,
)
from reachmap.angler.rules import WadeLimit
from reachmap.angler.wading import (
    CAREFUL,
    EASY,
    NO,
    UNKNOWN,
    grade_water,
    limit_for,
    raw_chance,
)
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.words import COVER_CODES, Cover, RiverKind
from tests.angler.hand import KIT
from tests.angler.test_wading import VIEW, grades, pond

WADE = WadingSettings()
PERSON = KIT.angler
SINGLE, BRAIDED = RiverKind.SINGLE, RiverKind.BRAIDED


def water(depth, speed, depth_error, speed_error):
    return Water(*(np.array([value]) for value in (depth, speed, depth_error, speed_error)))


def chance(*values, limit=None, correlation=0.0):
    return float(chance_beyond(water(*values), limit or WadeLimit(), correlation)[0])


def test_a_depth_limit_alone_gives_the_normal_distributions_tail():
    # exact: 1 - Phi((limit - depth) / error)
    got = chance(0.6, 0.5, 0.2, 0.1, limit=WadeLimit(depth_m=0.8))
    assert got == pytest.approx(norm.sf(1.0), abs=1e-9)


def test_a_speed_limit_alone_gives_the_normal_distributions_tail():
    got = chance(0.6, 0.5, 0.2, 0.1, limit=WadeLimit(speed_m_s=0.65))
    assert got == pytest.approx(norm.sf(1.5), abs=1e-9)


@pytest.mark.parametrize("correlation", [-0.7, 0.0, 0.5])
def test_the_product_limit_agrees_with_a_large_draw(correlation):
    # outside judge: numpy's own bivariate normal draw, 400,000 pairs
    rng = np.random.default_rng(1)
    limit = WadeLimit(product_m2_s=0.33, depth_m=0.9, speed_m_s=0.8)
    mean, sd = (0.5, 0.45), (0.15, 0.2)
    covariance = correlation * sd[0] * sd[1]
    pairs = rng.multivariate_normal(
        mean, [[sd[0] ** 2, covariance], [covariance, sd[1] ** 2]], 400_000
    )
    depth, speed = np.maximum(pairs[:, 0], 0.01), pairs[:, 1]
    beyond = (depth > 0.9) | (speed > 0.8) | (depth * speed > 0.33)
    got = chance(*mean, *sd, limit=limit, correlation=correlation)
    assert got == pytest.approx(beyond.mean(), abs=0.01)


@given(
    depth=st.floats(0.05, 1.5),
    speed=st.floats(0, 1.5),
    more=st.floats(0, 0.5),
    error=st.floats(0.02, 0.5),
)
def test_deeper_or_quicker_water_is_never_less_likely_beyond(depth, speed, more, error):
    limit = WadeLimit(0.33, 0.9, 0.8)
    here = chance(depth, speed, error, error, limit=limit)
    assert chance(depth + more, speed, error, error, limit=limit) >= here - 1e-6
    assert chance(depth, speed + more, error, error, limit=limit) >= here - 1e-6


def expected(view, **changed):
    return expected_water(view, view.speed[view.wet_cells], replace(WADE, **changed))


def errors(view, **changed):
    return Water(*(view.spread(values) for values in expected(view, **changed)))


def test_the_less_is_known_of_the_bed_the_larger_its_error():
    sure, unsure = (
        errors(replace(VIEW, confidence=np.full(VIEW.wet.shape, one))).depth_error[VIEW.wet]
        for one in (0.9, 0.4)
    )
    assert (unsure > sure).all()


def test_the_error_is_not_capped_in_a_thin_rim():
    view = pond(["####", "...."], depth=0.05)
    view = replace(view, confidence=np.full(view.wet.shape, 0.25))
    assert errors(view).depth_error[1, 1] >= 1.5 * 0.62


def test_a_share_of_the_depth_counts_as_its_error():
    shallow, deep = (
        errors(pond(["....", "....", "...."], depth=depth)).depth_error[1, 1]
        for depth in (0.2, 0.8)
    )
    share = WADE.depth_error_share
    assert share > 0
    assert deep**2 - shallow**2 == pytest.approx(share**2 * (0.8**2 - 0.2**2))


def test_quick_water_nearby_makes_slow_water_doubtful():
    rows = ["#" * 40, "." * 40]
    slow = pond(rows)
    east = slow.east.copy()
    east[1, 20] = 1.2
    beside = replace(slow, east=east)
    near, far = errors(beside).speed_error[1, 14], errors(beside).speed_error[1, 39]
    assert near >= WADE.speed_doubt * 1.2
    assert far < near
    assert errors(slow).speed_error[1, 14] < near


def test_deep_water_beside_makes_an_unseen_bed_doubtful_and_a_seen_one_not():
    view = pond(["####", "....", "XXXX"])
    seen = replace(view, confidence=np.full(view.wet.shape, 0.9))
    unseen = replace(view, confidence=np.full(view.wet.shape, 0.4))
    sounded = replace(view, confidence=np.full(view.wet.shape, 0.85))
    without = errors(unseen, deep_share=0.0).depth_error[1, 1]
    assert errors(unseen).depth_error[1, 1] >= np.hypot(without, 2.0 * WADE.deep_share) - 1e-9
    same = errors(sounded, deep_share=0.0).depth_error[1, 1]
    assert errors(sounded).depth_error[1, 1] == pytest.approx(same)
    same = errors(seen, deep_share=0.0).depth_error[1, 1]
    assert errors(seen).depth_error[1, 1] == pytest.approx(same)


def test_depth_and_speed_that_vary_nearby_are_doubtful():
    even, uneven = pond(["#" * 9, "." * 9, "." * 9]), pond(["#" * 9, ".:.:.:.:.", ":.:.:.:.:"])
    alike = {"depth_error_share": 0.0, "deep_share": 0.0}
    assert errors(uneven, **alike).depth_error[2, 4] > errors(even, **alike).depth_error[2, 4]
    east = even.east.copy()
    east[:, ::2] *= 3
    gusty = replace(even, east=east)
    alike = {"speed_doubt": 0.0}
    assert errors(gusty, **alike).speed_error[2, 4] > errors(even, **alike).speed_error[2, 4]


def test_a_guessed_gauge_reckons_with_more_water():
    read, guessed = errors(VIEW), errors(VIEW, gauge_error=0.25)
    wet = VIEW.wet
    rise = np.nanmean(VIEW.depth[wet]) * (1.25**0.6 - 1)  # Manning: q ~ h^(5/3) at one slope
    assert (guessed.depth - read.depth)[wet] == pytest.approx(rise)
    assert guessed.speed[wet] == pytest.approx(read.speed[wet] * 1.25**0.4)


def test_a_guessed_gauge_never_opens_water():
    read, guessed = (
        grade_water(VIEW, (), PERSON, replace(WADE, gauge_error=error)).grade
        for error in (0.0, 0.25)
    )
    assert (guessed >= read)[VIEW.wet].all()
    limit = limit_for(PERSON, WADE)
    usual, more = (
        raw_chance(VIEW, expected(VIEW, gauge_error=error), limit, WADE) for error in (0.0, 0.25)
    )
    assert (more >= usual).all()
    assert more.mean() > usual.mean() + 0.02


def test_less_doubt_is_what_opens_water():
    usual, bold = (
        grade_water(VIEW, (), PERSON, replace(WADE, doubt=doubt)).grade for doubt in (3.0, 1.0)
    )
    assert ((bold == EASY) | (bold == CAREFUL)).sum() > ((usual == EASY) | (usual == CAREFUL)).sum()


# what may be graded at all


def test_ground_that_the_map_wets_at_the_terrains_flow_was_not_seen_dry():
    view = pond(["####", "....", "XXXX"])
    view = replace(view, confidence=np.full(view.wet.shape, 0.9))
    then = view.wet_on_terrain_day.copy()
    then[1, 2] = True
    assert grades(view)[1] == "eeee"
    assert grades(replace(view, wet_on_terrain_day=then))[1] == "eeue"


def test_a_bed_that_was_seen_under_water_is_graded_by_odds_of_its_own(monkeypatch):
    view = pond(["####", "....", "XXXX"])
    then = np.zeros(view.wet.shape, dtype=bool)
    then[1, 2:] = True
    view = replace(view, confidence=np.full(view.wet.shape, 0.9), wet_on_terrain_day=then)
    tables = {"seen": [[0.0, 0.0], [0.5, 0.5]], "seen under water": [[0.0, 0.005], [0.5, 0.5]]}
    monkeypatch.setattr(odds, "tables", lambda: tables)
    assert grades(view)[1] == "eeuu"
    assert grades(replace(view, bed_seen=True))[1] == "eecc"


def test_a_bed_of_no_evidence_is_unknown():
    view = pond(["####", "....", "XXXX"])
    sure = np.full(view.wet.shape, 0.9)
    sure[1, 1] = 0.10
    assert grades(replace(view, confidence=sure))[1] == "euee"


def test_cells_that_hide_drops_are_not_graded():
    for cell, letters in ((1.0, "e" * 20), (2.0, "e" * 20), (4.0, "u" * 20)):
        view = pond(["#" * 20, "." * 20], cell=cell)
        assert grades(view)[1] == letters


def test_water_at_the_ends_of_the_reach_is_unknown():
    view = replace(pond(["#" * 20, "." * 20]), width=6.0)
    assert grades(view)[1] == "uuu" + "e" * 15 + "uu"  # stations 0 to 38 m of a line of 40 m


def test_without_a_terrain_model_nothing_is_easy_and_only_sounded_water_is_graded():
    view = replace(pond(["####", "....", "XXXX"]), from_terrain=False)
    sure = np.full(view.wet.shape, 0.85)
    sure[1, 2:] = 0.5
    assert grades(replace(view, confidence=sure))[1] == "ccuu"


def test_brush_is_never_easy():
    # beyond two mapped fields nothing else differs
    view = pond(["####", "....", "XXXX"], speed=0.05)
    brush = np.full(view.wet.shape, COVER_CODES[Cover.GRAVEL], np.uint8)
    brush[1, 1] = COVER_CODES[Cover.BRUSH]
    assert grades(view)[1] == "eeee"
    assert grades(replace(view, cover=brush))[1] == "ecee"


def test_deep_brush_is_out_of_bounds():
    view = pond(["####", "....", "XXXX"], depth=0.5, speed=0.02)
    brush = np.full(view.wet.shape, COVER_CODES[Cover.TREES], np.uint8)
    assert grades(view)[1] == "eeee"
    assert grades(replace(view, cover=brush))[1] == "nnnn"


def test_water_nearly_at_a_limit_is_never_easy():
    assert grades(pond(["####", "....", "XXXX"], depth=0.5))[1] == "eeee"
    assert grades(pond(["####", "....", "XXXX"], depth=0.57))[1] == "cccc"


# odds as observed


def test_observed_chances_rise_with_the_raw_ones():
    raw = np.linspace(0, 1, 401)
    tables = odds.tables()
    assert tables
    view = pond(["." * 401])
    for confidence in (0.9, 0.8, 0.5):
        here = replace(view, confidence=np.full((1, 401), confidence))
        got = odds.observed_chance(raw[None, :], here, WADE)[0]
        assert (np.diff(got) >= -1e-12).all()
        assert ((got >= 0) & (got <= 1)).all()
        assert got[-1] > 0.9


def test_a_seen_bed_is_believed_more_than_an_unseen_one():
    view, raw = pond(["...."]), np.full((1, 4), 0.2)
    seen, unseen = (
        odds.observed_chance(raw, replace(view, confidence=np.full((1, 4), one)), WADE).max()
        for one in (0.9, 0.5)
    )
    assert seen < unseen


def test_soundings_are_believed_only_beside_a_terrain_model():
    raw, view = np.full((1, 4), 0.2), replace(pond(["...."]), confidence=np.full((1, 4), 0.78))
    beside, alone = (
        odds.observed_chance(raw, replace(view, from_terrain=terrain), WADE)
        for terrain in (True, False)
    )
    assert beside.max() <= WADE.careful_chance
    assert alone == pytest.approx(raw)


def test_a_kind_of_map_without_a_table_keeps_the_raw_chance(monkeypatch):
    monkeypatch.setattr(odds, "tables", dict)
    raw = np.array([[0.0, 0.1, 0.4, np.nan]])
    got = odds.observed_chance(raw, pond(["...."]), WADE)
    assert got == pytest.approx(raw, nan_ok=True)


def test_the_observed_chance_decides_the_grade(monkeypatch):
    view = pond(["####", "....", "XXXX"])
    settings = replace(WADE, doubt=0.0, smooth_m=0.0)
    for share, letter in ((0.0, "e"), (0.005, "c"), (0.5, "n")):
        table = [[0.0, share], [0.5, max(share, 0.5)]]
        names = {"seen": table}
        monkeypatch.setattr(odds, "tables", lambda names=names: names)
        assert grades(view, settings=settings)[1] == 4 * letter


def test_threads_are_counted_across_the_river():
    wet = np.zeros((9, 6), dtype=bool)
    wet[0:2], wet[6:8] = True, True
    offset = np.repeat(np.arange(9.0)[:, None] * 2, 6, axis=1)
    station = np.repeat(np.arange(6.0)[None, :] * 2, 9, axis=0)
    assert share_of_threads(wet, station, offset, 2.0) == 1.0
    wet[2:6] = True
    assert share_of_threads(wet, station, offset, 2.0) == 0.0
    wet[:, :] = False
    assert share_of_threads(wet, station, offset, 2.0) == 0.0


@pytest.mark.parametrize("cell", [0.5, 1.0])
@pytest.mark.parametrize(("gap_m", "parted"), [(2.0, 0.0), (5.0, 1.0)])
def test_a_boulder_parts_no_threads_on_small_cells_either(cell, gap_m, parted):
    offset, station = np.meshgrid(np.arange(0, 20, cell), np.arange(0, 12, cell), indexing="ij")
    wet = (offset < 8) | (offset >= 8 + gap_m)
    assert share_of_threads(wet, station, offset, cell) == parted


@pytest.mark.parametrize(("lee_m", "parted"), [(1.0, 0.0), (3.0, 1.0)])
def test_a_trickle_is_no_thread_on_small_cells_either(lee_m, parted):
    offset, station = np.meshgrid(np.arange(0, 20, 0.5), np.arange(0, 12, 0.5), indexing="ij")
    wet = (offset < 8) | ((offset >= 14) & (offset < 14 + lee_m))
    assert share_of_threads(wet, station, offset, 0.5) == parted


def test_a_river_of_threads_at_the_terrains_flow_is_braided_at_every_flow():
    view = pond(["#" * 12, *["." * 12] * 8])
    offset = np.repeat(np.arange(9.0)[:, None] * 2, 12, axis=1)
    view = replace(view, offset=offset)
    assert odds.river_kind(view) is SINGLE
    then = view.wet.copy()
    then[3:7] = False
    braided = replace(view, wet_on_terrain_day=then)
    assert odds.river_kind(braided) is BRAIDED
    assert "e" in "".join(grades(view))
    assert not set("".join(grades(braided))) & set("ecn")


def test_no_water_is_graded_beyond_what_the_chance_allows():
    grade = grade_water(VIEW, (), PERSON, WADE).grade
    bold = grade_water(VIEW, (), PERSON, replace(WADE, careful_chance=0.5, easy_chance=0.3)).grade
    assert (grade >= bold)[VIEW.wet].all()
    assert {NO, UNKNOWN} & set(np.unique(grade[VIEW.wet]))
