"""Own numbers of reach.toml reach the stages; what the starter calls usual is what is in force."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from reachmap.angler import AnglerSettings
from reachmap.angler.settings import RoomSettings
from reachmap.base.fingerprint import stage_key
from reachmap.base.units import FOOT_M, to_si
from reachmap.base.words import Cast, Season, WadeRule
from reachmap.markup import read_markup
from reachmap.markup.own import Own, OwnCast, OwnFly, Sighting
from reachmap.markup.own_keys import OWN_KEYS
from reachmap.pipeline.own import ANGLER, PER_FOOT, WATER, own_angler, own_water
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.water import WaterSettings
from reachmap.water.clarity import clarity_at
from tests.markup.folders import make

UNPLACED = {"wading.product", "wading.speed"}


def in_force(name: str) -> list[float]:
    """Return what the settings hold for an own number [SI]."""
    found = []
    for places, settings in ((WATER, WaterSettings()), (ANGLER, AnglerSettings())):
        if name in places:
            group, key = places[name]
            found.append(getattr(getattr(settings, group) if group else settings, key))
    return found


@pytest.mark.parametrize("one", [one for one in OWN_KEYS if one.taken], ids=lambda one: one.name)
def test_the_usual_number_is_the_one_in_force(one):
    value, _, unit = one.usual.partition(" ")
    number = to_si(float(value), unit) if one.quantity else float(value)
    if one.name in PER_FOOT:
        number /= FOOT_M
    held = in_force(one.name)
    assert held
    for each in held:
        assert each == pytest.approx(number, rel=1e-9)


def test_every_own_number_has_its_place():
    names = {one.name for one in OWN_KEYS}
    assert {*WATER, *ANGLER, *UNPLACED} == names


@pytest.mark.parametrize("name", [*WATER, *ANGLER])
def test_an_own_number_changes_the_stages_key(name):
    key = next(one for one in OWN_KEYS if one.name == name)
    own = Own({name: 0.3 * key.low + 0.7 * key.high})
    before = (WaterSettings(), AnglerSettings())
    after = (own_water(before[0], own), own_angler(before[1], own))
    keys = [
        [stage_key("x", 1, asdict(settings), {}) for settings in pair] for pair in (before, after)
    ]
    assert (keys[0][0] != keys[1][0]) == (name in WATER)
    assert (keys[0][1] != keys[1][1]) == (name in ANGLER)


def test_own_wading_limits_casts_rules_and_flies_are_taken():
    own = Own(
        {"wading.product": 0.2, "wading.speed": 0.6},
        rules=(WadeRule.TEN,),
        casts=(OwnCast(Cast.SINGLE_SPEY, float("nan"), 33.0, float("nan")),),
        flies=(OwnFly(0.0, 0.05, 0.07, "pink", "full", "mine"),),
    )
    told = own_angler(AnglerSettings(), own)
    assert told.wading.rules == (WadeRule.TEN,)
    assert (told.wading.own.product_m2_s, told.wading.own.speed_m_s) == (0.2, 0.6)
    usual = RoomSettings().casts[Cast.SINGLE_SPEY]
    mine = told.room.casts[Cast.SINGLE_SPEY]
    assert (mine.tilt_deg, mine.anchored, mine.apex_share) == (33.0, usual.anchored, 0.40)
    assert list(told.room.casts) == list(RoomSettings().casts)
    assert told.flies[0].colour == "pink"


def test_clarity_follows_the_flow_by_two_sightings_unless_a_day_is_named(tmp_path):
    folder = make(tmp_path)
    toml = folder / "reach.toml"
    sightings = '\n[clarity]\nsightings = [[20, "1.6 m"], [80, "0.4 m"]]\n'
    toml.write_text(toml.read_text(encoding="utf-8") + sightings, encoding="utf-8")
    reach = read_markup(folder)
    told = settings_for(reach, Options())
    # through both sightings, and by the same power between: sqrt(1.6 x 0.4) at sqrt(20 x 80)
    for flow, clarity in ((20.0, 1.6), (80.0, 0.4), (40.0, 0.8)):
        assert clarity_at(flow, told.water) == pytest.approx(clarity)
    assert told.angler.clarity_law == told.water.clarity_law
    assert told.angler.clarity_told
    day = settings_for(reach, Options(clarity_m=0.5))
    assert clarity_at(80.0, day.water) == 0.5
    assert day.angler.clarity_law is None


def test_two_sightings_are_needed():
    own = Own({}, sightings=(Sighting(20.0, 1.0), Sighting(40.0, 0.5)))
    assert own_water(WaterSettings(), own).clarity_law is not None
    assert own_water(WaterSettings(), Own()).clarity_law is None


def test_own_summer_limits_hold_where_summer_is_asked_for(tmp_path):
    folder = make(tmp_path)
    toml = folder / "reach.toml"
    more = "\n[season.summer]\nspeed = [0.5, 1.2]\n"
    toml.write_text(toml.read_text(encoding="utf-8") + more, encoding="utf-8")
    limits = settings_for(read_markup(folder), Options(season="summer")).water.limits
    assert (limits.season, limits.speed_low_m_s) == (Season.SUMMER, 0.5)
