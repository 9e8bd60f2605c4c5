"""Own numbers of reach.toml reach the stages; what the starter calls usual is what is in force."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from reachmap.angler import AnglerSettings
from reachmap.angler.settings import RoomSettings
from reachmap.base.fingerprint import stage_key
from reachmap.base.words import Cast, Season, WadeRule
from reachmap.markup import read_markup
from reachmap.markup.config.own_numbers import tunables, with_own
from reachmap.markup.own import Own, OwnCast, OwnFly, Sighting
from reachmap.pipeline.own import own_angler, own_water
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.planner.score import ScoreSettings
from reachmap.water import WaterSettings
from reachmap.water.clarity import clarity_at
from tests.markup.folders import make

WATER_SECTIONS = {"clarity", "runs", "suits", "lane"}
DAY_SECTIONS = {"days"}
"""Numbers of the planner, which no stage of a build takes."""


def changed_by(own: Own) -> list[bool]:
    """Return whether own numbers change the key of the water stage and of the angler's."""
    stages = ((WaterSettings(), own_water), (AnglerSettings(), own_angler))
    return [
        stage_key("x", 1, asdict(usual), {}) != stage_key("x", 1, asdict(put(usual, own)), {})
        for usual, put in stages
    ]


@pytest.mark.parametrize("one", list(tunables().values()), ids=lambda one: one.name)
def test_an_own_number_changes_its_stage_and_no_other(one):
    own = Own({one.name: (0.3 * one.low + 0.7 * one.high) * one.scale})
    of_water, of_days = one.section in WATER_SECTIONS, one.section in DAY_SECTIONS
    assert changed_by(own) == [of_water, not of_water and not of_days]
    if of_days:
        assert with_own(ScoreSettings(), own.numbers) != ScoreSettings()


@pytest.mark.parametrize("one", list(tunables().values()), ids=lambda one: one.name)
def test_the_usual_number_changes_nothing(one):
    assert changed_by(Own({one.name: one.usual})) == [False, False]


def test_a_number_for_each_foot_is_taken_for_each_metre(tmp_path):
    folder = make(tmp_path)
    toml = folder / "reach.toml"
    text = toml.read_text(encoding="utf-8") + "\n[pace]\nstrip = 0.9\n"
    toml.write_text(text, encoding="utf-8")
    angler = settings_for(read_markup(folder), Options()).angler
    assert angler.pace.strip_s_per_m == pytest.approx(0.9 / 0.3048)


def test_clarity_and_what_counts_as_clear_reach_both_stages(tmp_path):
    folder = make(tmp_path)
    toml = folder / "reach.toml"
    text = toml.read_text(encoding="utf-8") + "\n[clarity]\nsee = 0.7\ngood = 1.5\n"
    toml.write_text(text, encoding="utf-8")
    told = settings_for(read_markup(folder), Options())
    assert (told.water.clarity_m, told.angler.clarity_m) == (0.7, 0.7)
    assert (told.water.clear_m, told.angler.pace.clear_m) == (1.5, 1.5)


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
