"""The search's memory, its thrift, and which art it tries for which fault of the swing."""

import numpy as np
import pytest

from reachmap.angler import search as search_module
from reachmap.angler import tip_search
from reachmap.angler.choose import first_cast
from reachmap.angler.plan_rows import ladder_rows
from reachmap.angler.plans import Ladder, Plans, _nothing
from reachmap.angler.tip_search import Search, Waters, waters_of
from reachmap.angler.tries import Loops, joined_tries, make_tries
from reachmap.base.words import Strip
from tests.angler.hand import KIT
from tests.angler.planned import SETTINGS, piece, places, river, scene_of

COUNT = len(SETTINGS.stations.angles_deg)
VIEW = river()
STANDS = places(VIEW)
SCENE, AIMS = scene_of(VIEW, STANDS, piece())
ROOMY = Loops(np.full((1, COUNT), 30.0), np.full((1, COUNT), 30.0))
ONE, TIP = np.zeros(1, np.int32), int(SCENE.gear.usable[0])


@pytest.fixture
def begun(monkeypatch):
    """Return a search whose swings are as good as `quality` says, by angle, and what was swung."""
    quality, swung = {}, []

    def swing_tries(_scene, lot, *_rest):
        swung.append(lot)
        judged, track = _nothing(len(lot), SETTINGS)
        good = np.array([quality.get(int(angle), 0.0) for angle in lot.angle])
        for name, value in (("quality", good), ("in_bands", good), ("drag", 0), ("tick", 0)):
            getattr(judged, name)[:] = value
        judged.end[:] = 1
        judged.pace[:], judged.share[:] = quality.get("pace", 0.4), quality.get("share", 0.5)
        return judged, track

    monkeypatch.setattr(tip_search, "swing_tries", swing_tries)
    return Search(SCENE, AIMS[Strip.INSIDE], ROOMY, Strip.INSIDE), quality, swung


def at(*angles, cast=12.0):
    """Return one try at each of these angles."""
    return joined_tries([make_tries(ONE, np.array([one]), np.array([cast]), TIP) for one in angles])


def test_the_best_try_is_kept_whatever_the_order(begun):
    search, quality, _ = begun
    quality |= {3: 0.5, 4: 0.8, 5: 0.6}
    search.consider(at(4, 3))
    search.consider(at(5))
    assert search.angle[0, TIP] == 4


def test_what_was_swung_is_not_swung_again_but_another_length_is(begun):
    search, quality, swung = begun
    quality |= {3: 0.2, 4: 0.3}
    search.consider(at(3))
    search.consider(at(3, 4))
    search.consider(at(4))
    search.consider(at(4, cast=14.0))
    assert [lot.angle.tolist() for lot in swung] == [[3], [4], [4]]
    assert search.angle[0, TIP] == 4


def test_a_try_that_could_not_win_is_not_worked_out_and_one_that_could_is(begun):
    search, quality, swung = begun
    quality |= {3: 0.9}
    search.consider(at(3))
    limit = KIT.angler.cast_limit_m
    search.consider(at(4, cast=limit))  # costs a quarter of the strip by its length alone
    assert len(swung) == 1
    search.consider(at(4))
    assert len(swung) == 2


def test_a_slow_fly_is_mended_down_and_a_quick_or_high_one_up_fed_or_held_high(begun):
    search, quality, swung = begun
    down = SETTINGS.plan.mends.index(((0.0, -1.0),)) + 1

    def art(**did):
        quality.clear()
        quality.update({3: 0.1} | did)
        search.worth[:] = -np.inf
        search.tried.clear()
        search.consider(at(3))
        swung.clear()
        search_module._try_art(search, ONE, np.full(1, TIP))
        return {
            (int(m), bool(f), bool(h))
            for m, f, h in zip(swung[0].mends, swung[0].fed, swung[0].high, strict=True)
        }

    assert art(pace=0.2) == {(down, False, False)}
    ups = {(n, False, False) for n in range(1, len(SETTINGS.plan.mends) + 1) if n != down}
    held = {(0, True, False), (0, False, True)}
    assert art(pace=0.7) == ups | held
    assert art(pace=0.2, share=0.1) == ups | held | {(down, False, False)}


def test_a_cast_lands_a_little_beyond_the_strip_and_no_nearer_than_a_run_is_begun():
    across = SETTINGS.stations.angles_deg.index(0.0)
    # the strip ends 9 m off the bank, half a cell more from where one stands
    far = float(AIMS[Strip.INSIDE].cast_m[0, across])
    assert far == pytest.approx(9.5 + SETTINGS.stations.beyond_m, abs=0.75)
    _, close = scene_of(VIEW, STANDS, piece(0, 2))
    assert close[Strip.INSIDE].cast_m[0, across] == pytest.approx(first_cast(KIT, SETTINGS))


def test_a_long_piece_may_change_its_tip_and_a_short_one_keeps_it():
    stands = places(VIEW, tuple(range(6, 76, 2)))
    hopeful = np.ones(len(stands), bool)
    assert waters_of(stands, hopeful, 8, 80.0).count == 1
    parts = waters_of(stands, hopeful, 8, 25.0)
    assert parts.count == 3
    # one below the other, each with its scouts
    assert (np.diff(parts.group[np.argsort(stands.station)]) >= 0).all()
    for group in range(3):
        assert parts.scouts[parts.group == group].any()


def test_a_place_without_hope_is_no_scout():
    stands = places(VIEW, tuple(range(6, 46, 2)))
    hopeful = np.arange(len(stands)) > 9
    assert not waters_of(stands, hopeful, 4, 80.0).scouts[:10].any()


def test_the_ladders_rows_name_the_tip_chosen():
    shape = (1, len(KIT.tips))
    one = np.linspace(0.1, 0.4, shape[1])[None]
    ladder = Ladder(one, one, one, one, one, one, one, ONE.copy(), np.array([2], np.int32))
    plans = Plans(None, None, Waters(ONE, np.ones(1, bool)), ladder)
    rows = ladder_rows(VIEW, STANDS, plans, ["E1"], KIT, SCENE.gear.usable)
    assert [row["tip"] for row in rows if row["chosen"]] == [KIT.tips[2].name]
    assert [row["order"] for row in rows] == [1, 2, 3, 4]
    assert {row["side"] for row in rows} == {"right"}
