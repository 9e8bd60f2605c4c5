"""A gauge's rating as levels at the foot, and what the report says of the foot."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from reachmap.base.words import UnitSystem
from reachmap.flow.foot_rating import FootHow, FootRule, Refused
from reachmap.flow.settings import FlowSettings
from reachmap.gauge.model import Gauge, RatingSegment, RatingShift
from reachmap.markup import read_markup
from reachmap.pipeline.foot import foot_report, rating_at_foot
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.text.foot import foot_words
from tests.made import made_ground

SAMPLE = Path(__file__).parents[2] / "data_samples" / "madeup_river"
NONE = np.array([], dtype="M8[s]")
STAGES = np.array([0.5, 1.0, 2.0])
PIECE = RatingSegment(STAGES, 20 * (STAGES - 0.1) ** 1.8, 0.1)


def gauge(zero=100.0, above=0.0, segments=(PIECE,), shift=None):
    return Gauge("made", segments, NONE, np.array([]), zero, shift, None, above)


def test_a_rating_is_tabled_as_levels_by_the_power_law_it_says():
    found = rating_at_foot(gauge(above=30.0))
    flow, level = np.array(found.flow), np.array(found.level)
    assert found.above_m == 30.0
    assert (np.diff(flow) > 0).all()
    assert flow == pytest.approx(20 * (level - 100.0 - 0.1) ** 1.8)
    assert (level[0], level[-1]) == pytest.approx((100.5, 102.0))


def test_the_shift_in_force_is_in_the_levels():
    plain, moved = (
        rating_at_foot(gauge(shift=shift))
        for shift in (None, RatingShift(np.array([0.0, 5.0]), np.array([0.2, 0.2])))
    )
    at = [float(np.interp(15.0, one.flow, one.level)) for one in (plain, moved)]
    assert at[0] - at[1] == pytest.approx(0.2, abs=0.01)


@pytest.mark.parametrize(
    "told", [gauge(zero=np.nan), gauge(above=np.nan), gauge(segments=())], ids=str
)
def test_without_rating_zero_or_place_there_is_none(told):
    assert rating_at_foot(told) is None


@pytest.mark.parametrize("above", [None, 0, 60])
def test_above_foot_in_reach_toml_puts_the_rating_to_use(above, tmp_path):
    folder = shutil.copytree(SAMPLE, tmp_path / "river")
    plan = folder / "reach.toml"
    text = plan.read_text(encoding="utf-8")
    if above is not None:
        text = text.replace("[gauge]", f"[gauge]\nabove_foot = {above}")
    plan.write_text(text, encoding="utf-8")
    found = settings_for(read_markup(folder), Options(quick=True, cell=4.0)).flow.foot_rating
    if above is None:
        assert found is None
        return
    assert found.above_m == pytest.approx(0.3048 * above)
    assert min(found.level) > 38.1  # the gauge's zero


def test_above_foot_without_a_zero_is_told_and_not_used(tmp_path):
    folder = shutil.copytree(SAMPLE, tmp_path / "river")
    plan = folder / "reach.toml"
    text = plan.read_text(encoding="utf-8").replace('zero = "38.1 m"', "above_foot = 0")
    plan.write_text(text, encoding="utf-8")
    drawn = read_markup(folder)
    assert any("above_foot is said, but without zero" in line for line in drawn.assumed)
    assert settings_for(drawn, Options(quick=True, cell=4.0)).flow.foot_rating is None


def test_the_report_says_which_rule_was_used():
    ground = made_ground().assign_attrs(vertical="local")
    plain = foot_report(ground, FlowSettings(), UnitSystem.US)
    assert plain["how"] == "normal"
    assert plain["refused"] is None
    assert plain["apart_m"] is None
    own = FlowSettings(foot_rating=rating_at_foot(gauge()))
    refused = foot_report(ground, own, UnitSystem.US)
    assert refused["refused"] == "local"
    assert "rating was not used: no terrain model" in refused["words"]


def test_each_rule_has_its_own_words():
    rules = [FootRule(FootHow.NORMAL), FootRule(FootHow.LOW_WATER)]
    rules += [FootRule(FootHow.RATING, None, 0.1, 5.0, 50.0)]
    rules += [FootRule(FootHow.NORMAL, why, 1.4, 5.0, 50.0) for why in Refused]
    told = {foot_words(one, UnitSystem.METRIC) for one in rules}
    assert len(told) == len(rules)
    assert any("above normal depth: look at zero" in line for line in told)
