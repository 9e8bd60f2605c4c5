"""Soundings that cannot be true are set aside, by name and reason."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point

from reachmap.base.errors import BuildError
from reachmap.base.words import UnitSystem
from reachmap.ground import build_ground
from reachmap.ground.used import facts_of
from reachmap.markup.model import Level, Sounding
from reachmap.text.evidence import set_aside_words
from tests.ground.flown_river import DRAWN, FLOWN, GROUND, RIVER, SETTINGS
from tests.ground.said import said_of
from tests.ground.scenes import (
    drawing,
    with_soundings,
)


def set_aside(ground):
    """Sentences on what a ground's evidence was left out of it."""
    return set_aside_words(facts_of(ground.attrs), UnitSystem.METRIC)


def test_a_sounding_ten_times_too_deep_is_set_aside_by_name():
    drawn = with_soundings(DRAWN, RIVER, 20.0, 15)
    bad = replace(drawn.soundings[6], depth_m=10 * drawn.soundings[6].depth_m, name="bridge pool")
    spoilt = replace(drawn, soundings=(*drawn.soundings[:6], bad, *drawn.soundings[7:]))
    ground = build_ground(spoilt, FLOWN, SETTINGS)
    (told,) = set_aside(ground)
    assert told.startswith("Sounding bridge pool was set aside")
    without = replace(drawn, soundings=(*drawn.soundings[:6], *drawn.soundings[7:]))
    clean = build_ground(without, FLOWN, SETTINGS)
    assert np.nanmax(np.abs(ground["bed"] - clean["bed"])) < 1e-9


def test_a_sounding_on_dry_land_is_set_aside_by_name():
    left, _ = RIVER.edges(RIVER.section_level(60.0))
    x, y = RIVER.line.from_station_offset(
        np.array([300.0]), np.array([np.interp(300, RIVER.line.station, left) + 8])
    )
    lost = Sounding("lost one", Point(x[0], y[0]), 1.2, 20.0, np.nan)
    drawn = with_soundings(DRAWN, RIVER, 20.0, 12)
    ground = build_ground(replace(drawn, soundings=(*drawn.soundings, lost)), FLOWN, SETTINGS)
    (told,) = set_aside(ground)
    assert told.startswith("Sounding lost one was set aside: the ground there stands")


def test_bed_heights_in_feet_are_set_aside():
    made = with_soundings(DRAWN, RIVER, 20.0, 3).soundings
    x, y = np.array([s.place.x for s in made]), np.array([s.place.y for s in made])
    heights = RIVER.at(x, y)
    feet = tuple(
        replace(one, bed_m=h / 0.3048, depth_m=np.nan) for one, h in zip(made, heights, strict=True)
    )
    ground = build_ground(replace(DRAWN, soundings=feet), FLOWN, SETTINGS)
    assert "\n".join(set_aside(ground)).count("another datum, or feet?") == 3


def test_a_dem_in_feet_taken_for_metres_stops_the_build():
    wrong = replace(FLOWN, height=FLOWN.height / np.float32(0.3048))
    with pytest.raises(BuildError, match="seem to be in feet"):
        build_ground(DRAWN, wrong, SETTINGS)


@pytest.mark.parametrize(("rows", "cols", "word"), [(0, 25, "east"), (25, 0, "south")])
def test_a_dem_shifted_by_50_m_stops_the_build(rows, cols, word):
    moved = np.full(FLOWN.height.shape, np.nan, dtype=np.float32)
    moved[rows:, cols:] = FLOWN.height[
        : FLOWN.height.shape[0] - rows, : FLOWN.height.shape[1] - cols
    ]
    with pytest.raises(BuildError, match=rf"about (4|5)\d m {word}"):
        build_ground(DRAWN, replace(FLOWN, height=moved), SETTINGS)


def test_a_dem_of_half_the_reach_stops_the_build():
    height = FLOWN.height.copy()
    height[:, : height.shape[1] * 2 // 3] = np.nan
    with pytest.raises(BuildError, match="knows only"):
        build_ground(DRAWN, replace(FLOWN, height=height), SETTINGS)


def test_a_dem_whose_flow_nobody_said_is_told():
    ground = build_ground(DRAWN, replace(FLOWN, flow=np.nan), SETTINGS)
    assert "Nobody says how much water ran when the DEM was flown" in said_of(ground)
    assert ground.attrs["low_flow"] == 20.0


def test_noted_levels_of_another_datum_are_set_aside_and_told():
    level = RIVER.section_level(20.0)
    places = []
    for station in (200.0, 400.0, 600.0):
        x, y = RIVER.line.from_station_offset(np.array([station]), np.array([0.0]))
        height = float(np.interp(station, RIVER.line.station, level))
        places.append((Point(x[0], y[0]), height))
    true = tuple(Level(place, height, 20.0) for place, height in places)
    off = tuple(Level(place, height + 27.0, 20.0) for place, height in places)
    assert "set aside" not in said_of(build_ground(replace(DRAWN, levels=true), FLOWN, SETTINGS))
    spoilt = build_ground(replace(DRAWN, levels=off), FLOWN, SETTINGS)
    assert "+27" in said_of(spoilt)
    assert "another datum" in said_of(spoilt)
    assert spoilt["bed"].to_numpy() == pytest.approx(GROUND["bed"].to_numpy(), nan_ok=True)


def test_the_drawn_line_stays_the_anglers_and_the_grounds_line_is_recentred():
    drawn = drawing(RIVER, 20.0, jitter=6.0, seed=8)
    before = drawn.main.line.wkb
    ground = build_ground(drawn, FLOWN, SETTINGS)
    assert drawn.main.line.wkb == before
    line = LineString(np.column_stack([ground["line_x"], ground["line_y"]]))
    level = RIVER.section_level(20.0)
    left, right = RIVER.edges(level)
    middle = np.column_stack(
        RIVER.line.from_station_offset(RIVER.line.station, (left + right) / 2)
    )[20:-20]
    theirs = np.median([drawn.main.line.distance(Point(p)) for p in middle])
    ours = np.median([line.distance(Point(p)) for p in middle])
    assert theirs > 2.0
    assert ours < 0.5 * theirs
