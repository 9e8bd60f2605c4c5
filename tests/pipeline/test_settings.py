"""What was asked of a build reaches the stages."""

from __future__ import annotations

import pytest

from reachmap.angler.wind import WindWord
from reachmap.base.errors import MarkupError
from reachmap.base.words import Season
from reachmap.markup import read_markup
from reachmap.markup.defaults import LIMITS
from reachmap.markup.model import SeasonLimits
from reachmap.pipeline.settings import season_limits, settings_for
from reachmap.pipeline.stamp import Options
from tests.markup.folders import make

OWN = SeasonLimits(Season.WINTER, 0.4, 1.5, 0.2, 0.8)


def test_the_folders_own_limits_hold_for_their_season():
    assert season_limits(OWN, None) is OWN
    assert season_limits(OWN, "winter") is OWN


def test_another_season_has_its_usual_limits():
    assert season_limits(OWN, "summer") == LIMITS[Season.SUMMER]


def test_options_reach_every_stage(tmp_path):
    reach = read_markup(make(tmp_path))
    asked = Options(
        flows=(25.0,), cell=4.0, quick=True, season="summer", wind="left", clarity_m=0.5
    )
    told = settings_for(reach, asked)
    assert told.flows == (25.0,)
    assert told.ground.cell == 4.0
    assert told.flow.method == "profile"
    assert told.water.limits.season is Season.SUMMER
    assert (told.water.clarity_m, told.angler.clarity_m) == (0.5, 0.5)
    assert told.angler.wind.word is WindWord.LEFT
    assert told.angler.season is Season.SUMMER
    assert not told.angler.line.full


def test_without_being_asked_the_engine_works_and_the_folder_rules(tmp_path):
    reach = read_markup(make(tmp_path))
    told = settings_for(reach, Options())
    assert told.flow.method == "engine"
    assert told.flows == reach.plan.flows
    assert told.water.limits == reach.plan.season


def test_a_wind_that_is_none_is_refused(tmp_path):
    with pytest.raises(MarkupError, match="sideways"):
        settings_for(read_markup(make(tmp_path)), Options(wind="sideways"))
