"""The angler's own numbers in reach.toml: read, limited, told in the starter and the docs."""

from __future__ import annotations

import math

import pytest

from reachmap.base.words import Cast, Season, WadeRule
from reachmap.markup.config import read_plan
from reachmap.markup.config.own_numbers import tunables
from reachmap.markup.config.render import template
from reachmap.markup.defaults import LIE_LIMITS, LIMITS
from reachmap.pipeline.settings import lie_limits
from tests.markup.folders import TOML

NUMBERS = list(tunables().values())


def read(more: str):
    """Return a metric plan with more lines at its end."""
    return read_plan(f"{TOML}\n{more}\n")


def faults(more: str) -> list[str]:
    return [str(fault) for fault in read(more).faults]


def test_nothing_said_is_nothing_of_ones_own():
    own = read_plan(TOML).plan.own
    assert not own.numbers
    assert (own.rules, own.casts, own.flies, own.sightings) == ((), (), (), ())


def test_numbers_are_read_in_the_folders_units_or_their_own():
    own = read('[lane]\nleast_depth = 0.2\nmost_speed = "12 ft/s"\n[pace]\nhang = 8').plan.own
    assert own.numbers == {
        "lane.least_depth": 0.2,
        "lane.most_speed": pytest.approx(12 * 0.3048),
        "pace.hang": 8.0,
    }


@pytest.mark.parametrize("one", NUMBERS, ids=lambda one: one.name)
def test_every_number_outside_its_limits_is_a_fault_with_its_line_and_mend(one):
    told = faults(f"[{one.section}]\n{one.key} = {one.high * 1.5 + 1}")
    assert len(told) == 1
    assert f"line {len(TOML.splitlines()) + 2}, [{one.section}] {one.key}" in told[0].replace(
        f"line {len(TOML.splitlines()) + 3}", f"line {len(TOML.splitlines()) + 2}"
    )
    assert "Wants" in told[0]


@pytest.mark.parametrize("one", NUMBERS, ids=lambda one: one.name)
def test_every_usual_number_is_within_its_limits_and_says_where_it_is_from(one):
    if math.isfinite(one.usual):
        assert one.low <= one.usual / one.scale <= one.high
    assert one.source
    assert one.meaning


def test_a_text_for_a_number_and_a_misspelt_key_are_faults():
    assert "is not a number" in faults('[pace]\nhang = "long"')[0]
    assert "Did you mean 'hang'" in faults("[pace]\nhangs = 5")[0]
    assert "Did you mean [casting]" in faults("[castin]\nhand = 1.6")[0]


def test_rules_are_named_by_their_words():
    own = read('[wading]\nrules = ["Rule of ten", "poor conditions"]').plan.own
    assert own.rules == (WadeRule.TEN, WadeRule.POOR)
    told = faults('[wading]\nrules = ["rule of tens"]')
    assert "Use one of: rule of ten" in told[0]


def test_own_casts_need_a_cast_of_the_trade_once():
    own = read('[[cast]]\nname = "Snap-T"\ntilt = 25').plan.own
    assert own.casts[0].cast is Cast.SNAP_T
    assert own.casts[0].tilt_deg == 25
    assert own.casts[0].anchored != own.casts[0].anchored
    assert "is not a cast" in faults('[[cast]]\nname = "big loop"')[0]
    assert "does not name" in faults("[[cast]]\ntilt = 25")[0]
    twice = '[[cast]]\nname = "overhead"\n[[cast]]\nname = "overhead"'
    assert "two sections" in faults(twice)[0]


def test_an_own_fly_table_begins_at_nothing_and_rises():
    rows = '[[fly]]\nclarity = 1\nlength = ["2 in", "3 in"]\ncolour = "olive"\n'
    first = '[[fly]]\nclarity = 0\nlength = ["4 in", "5 in"]\n'
    own = read(rows + first).plan.own
    assert [fly.clarity_m for fly in own.flies] == [0.0, 1.0]
    assert own.flies[1].colour == "olive"
    assert "no row holds for coloured water" in faults(rows)[0]
    assert "two rows begin" in faults(first + first)[0]
    assert "longer than" in faults('[[fly]]\nclarity = 0\nlength = ["5 in", "4 in"]')[0]
    assert len(faults("[[fly]]\ncolour = 'pink'")) == 2


def test_two_sightings_at_two_flows():
    own = read('[clarity]\nsightings = [[60, "0.5 m"], [20, 1.5]]').plan.own
    assert [(one.flow, one.clarity_m) for one in own.sightings] == [(20.0, 1.5), (60.0, 0.5)]
    assert "at one flow" in faults("[clarity]\nsightings = [[20, 1.5], [20, 1]]")[0]
    assert "is not two sightings" in faults("[clarity]\nsightings = [20, 1.5]")[0]
    assert faults("[clarity]\nsightings = [[20, 'far'], [30, 1]]")


@pytest.mark.parametrize(
    "more", ["depth_low = 0.9", "depth_high = 0.2", 'slowest = "0.7 m/s"', "quickest = 0.2"]
)
def test_a_low_above_its_high_is_a_fault_also_against_the_usual_one(more):
    told = faults(f"[swing]\n{more}")
    assert len(told) == 1
    assert "is not below" in told[0]


def test_limits_of_another_season():
    plan = read("[season.summer]\ndepth = [0.3, 1.5]").plan
    other = plan.other_seasons[0]
    assert other.season is Season.SUMMER
    assert (other.depth_low_m, other.depth_high_m) == (0.3, 1.5)
    assert other.speed_low_m_s == LIMITS[Season.SUMMER].speed_low_m_s
    assert "is not a key here" in faults("[season.summer]\ndepths = [0.3, 1.5]")[0]
    assert "given twice" in faults("[season.winter]\ndepth = [0.3, 1.5]")[0]


def test_lies_have_limits_of_their_own_by_season():
    assert read("").plan.lies == ()
    plan = read(
        '[season.winter]\nlie_depth = [0.8, 2.5]\n[season.summer]\nlie_speed = "2 ft/s"'
    ).plan
    winter, summer = plan.lies
    assert (winter.season, summer.season) == (Season.WINTER, Season.SUMMER)
    assert (winter.depth_low_m, winter.depth_high_m) == (0.8, 2.5)
    assert winter.speed_high_m_s == LIE_LIMITS[Season.WINTER].speed_high_m_s
    assert summer.speed_high_m_s == pytest.approx(0.6096)
    assert summer.depth_low_m == LIE_LIMITS[Season.SUMMER].depth_low_m
    assert lie_limits(Season.WINTER, plan.lies) == winter
    assert lie_limits(Season.SUMMER, ()) == LIE_LIMITS[Season.SUMMER]


def test_the_seasons_own_section_says_its_lies_too():
    told = TOML.replace("[season]", "[season]\nlie_depth = [0.9, 2]\nlie_speed = 0.4")
    [winter] = read_plan(told).plan.lies
    assert (winter.depth_low_m, winter.speed_high_m_s) == (0.9, 0.4)
    twice = f"{told}[season.winter]\nlie_speed = 0.5\n"
    assert "given twice" in str(read_plan(twice).faults[0])


def test_a_heads_weight_in_grains():
    toml = TOML.replace('family = "skagit"', 'family = "skagit"\nweight = "540 gr"')
    assert toml != TOML
    head = read_plan(toml).plan.kit.heads[0]
    assert head.mass_kg == pytest.approx(540 * 64.79891e-6)  # a grain is 64.79891 mg, from memory
    bad = read_plan(toml.replace("540 gr", "540 kg")).faults
    assert len(bad) == 1


def test_the_starter_holds_every_number_with_its_source():
    text = template().partition("Everything below")[2]
    for one in NUMBERS:
        block = text.partition(f"# [{one.section}]")[2].partition("\n\n")[0]
        line = next(line for line in block.splitlines() if line.startswith(f"# {one.key} = "))
        assert one.source in line
        assert one.meaning in line


def test_what_the_starter_shows_as_usual_is_what_is_taken():
    lines = template().partition("Everything below")[2].splitlines()
    shown = "\n".join(line.removeprefix("# ") for line in lines[2:])
    told = read_plan(f"{TOML}{shown}")
    assert not told.faults
    for one in NUMBERS:
        if math.isfinite(one.usual):
            assert told.plan.own.numbers[one.name] == pytest.approx(one.usual)
