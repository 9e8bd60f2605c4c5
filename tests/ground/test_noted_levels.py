"""Levels noted where there is no terrain model: they count, and no further than they hold."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import Point

from reachmap.ground import GroundSettings, build_ground, low_line
from reachmap.ground.layout import lay_out
from reachmap.ground.low_water import pooled_level
from reachmap.ground.noted_levels import heights_of, through_levels
from reachmap.ground.used import Kind, Why, facts_of
from reachmap.markup.model import Level
from tests.ground.said import said_of
from tests.ground.scenes import drawing, pool_riffle, straight_trapezoid, with_soundings

SETTINGS = GroundSettings()
RULES = SETTINGS.noted
TRACED = 20.0
RIVER = pool_riffle(length=900)
DRAWN = drawing(RIVER, TRACED)
TRUE = RIVER.section_level(TRACED)


def note(river, station, height, flow=TRACED, offset=0.0):
    x, y = river.line.from_station_offset(np.array([float(station)]), np.array([offset]))
    return Level(Point(x[0], y[0]), float(height), flow)


def true_notes(stations, flow=TRACED):
    level = RIVER.section_level(flow)
    return tuple(note(RIVER, s, np.interp(s, RIVER.line.station, level), flow) for s in stations)


def misses(ground):
    """How far the low water's level is off the true one along the line, mean taken out."""
    station, level = low_line(ground)
    main = lay_out(DRAWN, SETTINGS).main.line
    x, y = main.from_station_offset(station, np.zeros(station.shape))
    off = level - RIVER.level_at(TRUE, x, y)
    return off, off - off.mean()


def test_levels_without_a_terrain_model_bring_the_low_water_to_their_heights():
    before = build_ground(DRAWN, None, SETTINGS)
    after = build_ground(replace(DRAWN, levels=true_notes(range(20, 900, 40))), None, SETTINGS)
    assert (before.attrs["vertical"], after.attrs["vertical"]) == ("local", "noted")
    assert np.sqrt(np.mean(misses(after)[0] ** 2)) < 0.05
    assert np.std(misses(after)[1]) < 0.5 * np.std(misses(before)[1])


def test_levels_bring_the_bed_nearer_to_the_true_one():
    rms = []
    for levels in ((), true_notes(range(20, 900, 30))):
        ground = build_ground(replace(DRAWN, levels=levels), None, SETTINGS)
        x, y = np.meshgrid(ground["x"].to_numpy(), ground["y"].to_numpy())
        true = RIVER.at(x, y)
        deep = RIVER.level_at(TRUE, x, y) - true
        off = (ground["bed"].to_numpy() - true)[deep > 0.4]
        rms.append(np.nanstd(off))
    assert rms[1] < 0.95 * rms[0]


def test_every_level_is_told_as_used():
    ground = build_ground(replace(DRAWN, levels=true_notes((100, 400, 700))), None, SETTINGS)
    told = [one for one in facts_of(ground.attrs) if one.kind is Kind.LEVEL]
    assert [one.why for one in told] == [Why.USED] * 3


def straight():
    """A straight river's main channel, its even prior, and the drawing."""
    river = straight_trapezoid()
    channel = lay_out(drawing(river, TRACED, jitter=0.0), SETTINGS).main
    return river, channel, pooled_level(channel, 0.002, SETTINGS)


def drawn_through(levels, datum=10.0):
    _, channel, prior = straight()
    reading = heights_of(channel, levels, TRACED, 0.002, 0.035)
    return channel, prior, through_levels(channel, prior, levels, reading, RULES, datum)


def test_two_banks_of_one_section_are_one_level():
    """A centimetre between banks 12 m apart along the river is no still pool."""
    river, _, _ = straight()
    levels = [note(river, 50, 99.9), note(river, 300, 99.40, offset=9)]
    levels += [note(river, 312, 99.41, offset=-9), note(river, 560, 98.88)]
    channel, prior, through = drawn_through(levels)
    assert channel.median_width > 12
    assert through.notes.members == ((0,), (1, 2), (3,))
    slope = -np.gradient(through.level, channel.line.station)
    middle = slice(len(prior) // 4, -len(prior) // 4)
    assert slope[middle].min() > 0.5 * 0.002  # the true slope of the river


def test_between_notes_far_apart_the_fall_is_shared_out_as_before():
    river, _, _ = straight()
    levels = [note(river, 20, 100.0), note(river, 580, 99.0)]
    channel, prior, through = drawn_through(levels)
    at = channel.line.station
    inside = (at > 20) & (at < 580)
    share = [(one[inside][0] - one[inside]) / np.ptp(one[inside]) for one in (prior, through.level)]
    assert np.abs(share[0] - share[1]).max() < 0.02
    assert np.ptp(through.level[inside]) == pytest.approx(1.0 * 556 / 560, rel=0.03)


def test_a_level_that_the_others_contradict_is_left_out():
    river, _, _ = straight()
    levels = [note(river, s, 100.0 - 0.002 * s) for s in (50, 170, 290, 410, 530)]
    wrong = replace(levels[2], level_m=levels[2].level_m + 3.0)
    channel, _, through = drawn_through([*levels[:2], wrong, *levels[3:]])
    assert [one.why for one in through.facts] == [
        Why.USED, Why.USED, Why.OTHER_LEVELS, Why.USED, Why.USED,
    ]  # fmt: skip
    middle = float(np.interp(290, channel.line.station, through.level))
    assert middle == pytest.approx(levels[2].level_m, abs=0.1)


def test_levels_of_another_datum_do_not_bend_a_terrain_models():
    river, _, _ = straight()
    levels = [note(river, s, 127.0 - 0.002 * s) for s in (50, 300, 550)]
    _, prior, through = drawn_through(levels, datum=RULES.dem_datum_m)
    assert {one.why for one in through.facts} == {Why.OTHER_DATUM}
    assert through.level == pytest.approx(prior)


def test_a_level_off_the_river_is_left_out():
    river, channel, _ = straight()
    far = note(river, 300, 99.4, offset=3 * channel.median_width)
    _, prior, through = drawn_through([far])
    assert [one.why for one in through.facts] == [Why.OUTSIDE]
    assert through.level == pytest.approx(prior)


def test_levels_at_a_higher_flow_alone_bend_the_fall_and_make_no_datum():
    plain = build_ground(DRAWN, None, SETTINGS)
    ground = build_ground(
        replace(DRAWN, levels=true_notes(range(20, 900, 60), 60.0)), None, SETTINGS
    )
    assert ground.attrs["vertical"] == "local"
    assert low_line(ground)[1][0] == pytest.approx(100.0)
    assert np.std(misses(ground)[1]) < np.std(misses(plain)[1])


def test_a_level_at_a_higher_flow_says_how_far_the_water_rises():
    low = true_notes(range(20, 900, 40))
    high = true_notes(range(100, 900, 200), 60.0)
    sounded = replace(with_soundings(DRAWN, RIVER, TRACED, 5), levels=low)
    told = said_of(build_ground(replace(sounded, levels=(*low, *high)), None, SETTINGS))
    assert "The water's level at 60 m\u00b3/s was noted." in told
    assert "was noted" not in said_of(build_ground(sounded, None, SETTINGS))


def test_levels_at_a_higher_flow_do_not_lift_the_low_water():
    """Water that stands nearly half a metre higher at 60 m3/s than at 20."""
    rise = float(np.median(RIVER.section_level(60.0) - TRUE))
    assert rise > 0.4
    levels = (*true_notes((100,)), *true_notes(range(60, 900, 120), 60.0))
    ground = build_ground(replace(DRAWN, levels=levels), None, SETTINGS)
    assert abs(misses(ground)[0].mean()) < 0.04
    told = [one.why for one in facts_of(ground.attrs) if one.kind is Kind.LEVEL]
    assert set(told) == {Why.USED}


def test_a_datum_moves_all_heights_and_bends_nothing():
    """The same notes above another zero: nothing but the zero differs."""
    found = []
    for zero in (0.0, 412.0):
        levels = tuple(
            replace(one, level_m=one.level_m + zero) for one in true_notes((150, 400, 420, 700))
        )
        found.append(low_line(build_ground(replace(DRAWN, levels=levels), None, SETTINGS))[1])
    assert found[1] - found[0] == pytest.approx(np.full(found[0].shape, 412.0), abs=1e-3)


def test_one_level_gives_the_datum_and_leaves_the_fall_as_it_was():
    plain = low_line(build_ground(DRAWN, None, SETTINGS))[1]
    one = replace(DRAWN, levels=true_notes((400,)))
    level = low_line(build_ground(one, None, SETTINGS))[1]
    assert np.ptp(level - plain) < 1e-3
