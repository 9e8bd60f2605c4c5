"""Evidence that contradicts other evidence is reported with both values; honest evidence is not."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from reachmap.base.errors import DISAGREES, BuildError
from reachmap.gauge.model import Gauge, RatingSegment
from reachmap.ground import GroundSettings, build_ground
from reachmap.ground.used import Kind, Why, facts_of
from reachmap.markup.evidence import ACCEPTED, UNLIKELY
from scripts.measure_evidence import pinched, soundings_times, swapped, traced_times
from tests.ground.honest_rivers import honest
from tests.ground.said import said_of
from tests.ground.scenes import drawing, flown, pool_riffle, with_soundings

SETTINGS = GroundSettings(cell=4.0)
FOOT = 0.3048
RIVER = pool_riffle(length=900)
TRACED, HIGH = 20.0, (60.0, 140.0)
BARE = drawing(RIVER, TRACED, edge_flows=HIGH, dem_flow=15.0)
DRAWN = with_soundings(BARE, RIVER, TRACED, 20)
DEM = flown(RIVER, DRAWN, 15.0, cell=4.0, noise=0.03)
NO_SLOPE = replace(DRAWN, plan=replace(DRAWN.plan, slope=np.nan))
FEET_DEM = replace(DEM, height=(DEM.height / FOOT).astype(np.float32))


def notes(markup, dem=None):
    return said_of(build_ground(markup, dem, SETTINGS)).splitlines()


def warnings(markup, dem=None):
    return [one for one in notes(markup, dem) if one.startswith((DISAGREES, UNLIKELY))]


def warned(markup, dem=None, *, of):
    """Return the one warning that speaks of something."""
    found = [one for one in warnings(markup, dem) if of in one]
    assert len(found) == 1, found
    return found[0]


def stopped(markup, dem=None):
    with pytest.raises(BuildError) as caught:
        build_ground(markup, dem, SETTINGS)
    return str(caught.value)


def accepting(markup, *topics):
    return replace(markup, plan=replace(markup.plan, accepted=topics))


@cache
def rating(times=1.0):
    """Return a gauge whose stage rises `times` as much as the true river in its middle."""
    flows = np.array([10.0, 15.0, 20.0, 40.0, 60.0, 100.0, 140.0, 200.0])
    stage = np.array([np.median(RIVER.section_level(flow)) for flow in flows])
    piece = RatingSegment((stage - stage[0]) * times + 1.0, flows, 0.0)
    none = np.array([], dtype="datetime64[s]")
    return Gauge("made", (piece,), none, np.array([]), np.nan)


# honest evidence


@pytest.mark.parametrize("dem", [DEM, None], ids=["DEM", "no DEM"])
def test_honest_evidence_gives_no_message(dem):
    assert warnings(DRAWN, dem) == []
    assert warnings(replace(DRAWN, gauge=rating()), dem) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 5, 11, 17])
def test_rivers_of_other_kinds_give_no_message(seed):
    one = honest(seed, 4.0)
    assert warnings(one.markup, one.dem) == []
    assert [line for line in warnings(one.markup) if line.startswith(DISAGREES)] == []


# soundings


@pytest.mark.parametrize("dem", [DEM, None], ids=["DEM", "no DEM"])
@pytest.mark.parametrize(
    ("factor", "words"),
    [(1 / FOOT, "feet were written where metres are"), (FOOT, "metres were written where feet")],
)
def test_soundings_in_another_unit_stop_the_build_with_both_depths(factor, words, dem):
    text = stopped(soundings_times(factor)(DRAWN), dem)
    assert words in text
    pattern = r"are ([\d.]+) m deep in the median where 20 m3/s would stand ([\d.]+) m deep"
    noted, expected = map(float, re.search(pattern, text).groups())
    assert noted / expected == pytest.approx(factor * (1.05 if dem else 1.4), rel=0.35)
    assert 'accept = ["soundings"]' in text


def test_soundings_declared_right_are_used_as_they_are():
    deep = accepting(soundings_times(1 / FOOT)(DRAWN), "soundings")
    told = notes(deep, DEM)
    assert any(one.startswith(f"{ACCEPTED} (soundings)") for one in told)
    facts = facts_of(build_ground(deep, DEM, SETTINGS).attrs)
    assert {one.why for one in facts if one.kind is Kind.SOUNDING} == {Why.USED}
    mean = [float(build_ground(one, DEM, SETTINGS)["bed"].mean()) for one in (deep, DRAWN)]
    assert mean[0] < mean[1] - 0.3


def test_a_few_soundings_in_another_unit_warn():
    few = replace(DRAWN, soundings=DRAWN.soundings[:3])
    assert "0.3" in warned(soundings_times(FOOT)(few), DEM, of="soundings")


def test_soundings_twice_too_deep_are_no_unit_but_warn():
    text = warned(soundings_times(2.15)(DRAWN), DEM, of="soundings")
    assert "feet" not in text
    assert "Correct the depths or the flow" in text


def some_times(factor, which):
    return replace(
        DRAWN,
        soundings=tuple(
            replace(one, depth_m=one.depth_m * (factor if index in which else 1.0))
            for index, one in enumerate(DRAWN.soundings)
        ),
    )


def test_some_soundings_in_another_unit_are_named():
    text = warned(some_times(FOOT, {2, 7, 13}), DEM, of="soundings")
    assert "3 of 20 (S3, S8, S14)" in text
    assert "metres were written where feet" in text
    assert "3 of 20" in stopped(some_times(FOOT, {1, 2, 6, 7, 12, 13, 16}), DEM).replace(
        "7 of", "3 of"
    )


# edges


def test_flows_swapped_between_edges_are_reported_with_both_widths():
    for dem in (DEM, None):
        text = warned(swapped(BARE), dem, of="is wider than")
        assert "the edge drawn at 60 m3/s is wider than the edge drawn at 140 m3/s" in text
        assert "swapped" in text
        assert " m against " in text


def test_an_edge_pinched_over_a_stretch_is_reported_where_it_is():
    told = [one for one in warnings(pinched(BARE), DEM) if "than the edge drawn at 140" in one]
    start, end = (
        float(part.split(" m")[0]) for part in told[0].split("most at ")[1].split(" to ")[:2]
    )
    assert 320 < start < 420
    assert 440 < end < 530
    assert "misdrawn there" in told[0]


def test_an_edge_drawn_at_the_traced_flow_must_be_the_traced_one():
    text = warned(replace(traced_times(3)(BARE)), None, of="at the same flow")
    assert "at 60 m3/s is 51 m wide in the median, the traced water at the same flow 44 m" in text


# the traced flow


@pytest.mark.parametrize("factor", [3.0, 1 / 3])
def test_a_traced_flow_three_times_off_is_reported_with_both_flows(factor):
    said = f"{20 * factor:.4g} m3/s"
    by_level = warned(traced_times(factor)(replace(BARE, edges=())), DEM, of="it is the level of")
    assert f"the traced edge at {said} stands" in by_level
    assert "level of about 2" in by_level or "level of about 1" in by_level
    three = replace(drawing(RIVER, TRACED, edge_flows=(40.0, 140.0)))
    by_width = warned(traced_times(factor)(three), None, of="is that of about")
    assert f"traced_flow is {said}" in by_width


# levels, rating, unit of the DEM


def test_a_dem_in_feet_stops_by_the_rating_and_by_the_edges_alone():
    text = stopped(replace(NO_SLOPE, gauge=rating()), FEET_DEM)
    assert "heights are in feet" in text
    assert "at the gauge" in text
    alone = stopped(replace(NO_SLOPE, soundings=()), FEET_DEM)
    assert "heights are in feet" in alone
    assert "carry that flow" in alone


def test_a_dem_in_metres_read_as_feet_stops_by_the_rating():
    small = replace(DEM, height=(DEM.height * FOOT).astype(np.float32))
    assert "heights are in metres" in stopped(replace(NO_SLOPE, gauge=rating()), small)


def test_a_dem_declared_right_does_not_stop():
    told = notes(accepting(replace(NO_SLOPE, soundings=()), "dem"), FEET_DEM)
    assert any(one.startswith(f"{ACCEPTED} (dem)") for one in told)


def test_a_rating_that_rises_otherwise_than_the_reach_is_reported_with_both_rises():
    text = warned(replace(BARE, gauge=rating(6.0)), DEM, of="at the gauge")
    assert "the water rises" in text
    assert "0.1" in text


def test_an_edge_at_a_wrong_flow_is_reported_with_the_flow_of_its_level():
    wrong = tuple(replace(one, flow=30.0) if one.flow == 140.0 else one for one in BARE.edges)
    told = warnings(replace(BARE, edges=wrong), DEM)
    assert any("the edge drawn at 30 m3/s stands" in one and "level of about 1" in one
               for one in told)  # fmt: skip
    assert any("above the lowest water, the edge drawn at 60 m3/s only" in one for one in told)


# walls


def wall(station, half_length, rise=6.0, *, right=-80.0, slant=0.0):
    """Return the DEM with a wall across the river, and the mask of its cells."""
    from reachmap.ground import grid_of

    grid = grid_of(DRAWN, 4.0, 30.0)
    x, y = np.meshgrid(grid.x, grid.y)
    (x0,), (y0,) = RIVER.line.from_station_offset(np.array([station]), np.zeros(1))
    angle = RIVER.line.direction(station) + slant
    along = (x - x0) * np.cos(angle) + (y - y0) * np.sin(angle)
    across = -(x - x0) * np.sin(angle) + (y - y0) * np.cos(angle)
    on = (np.abs(along) < half_length) & (across < 80) & (across > right)
    level = np.interp(station, RIVER.line.station, RIVER.section_level(15.0))
    height = np.where(on, np.fmax(DEM.height, level + rise), DEM.height)
    return replace(DEM, height=height.astype(np.float32)), on


@pytest.mark.parametrize("slant", [0.0, 0.5])
def test_a_bridge_deck_is_reported_and_does_not_dam_the_river(slant):
    dem, on = wall(450.0, 5.0, slant=slant)
    text = warned(DRAWN, dem, of="crosses the whole water")
    assert "6.0 m above it" in text
    assert "bridge deck" in text
    where = float(text.split("DEM, ")[1].split(" m down")[0])
    assert where == pytest.approx(450, abs=25)
    bed, clean = (build_ground(DRAWN, one, SETTINGS)["bed"].to_numpy() for one in (dem, DEM))
    x, y = np.meshgrid(*(build_ground(DRAWN, DEM, SETTINGS)[line] for line in "xy"))
    water = RIVER.level_at(RIVER.section_level(15.0), x, y)
    under = on & (clean < water - 0.3)
    assert under.sum() > 10
    assert np.nanmax(np.abs(bed - clean)[under]) < 0.3
    beside = on & (clean > water + 0.5)
    assert np.isnan(bed[beside]).mean() > 0.8  # what is beneath a deck beside the water is unknown


def test_a_deck_declared_ground_stays():
    dem, on = wall(450.0, 5.0)
    kept = build_ground(accepting(DRAWN, "decks"), dem, SETTINGS)
    assert np.nanmax(kept["bed"].to_numpy()[on]) > 103
    assert f"{ACCEPTED} (decks)" in said_of(kept)


def test_a_wall_too_long_for_a_deck_stops_the_build():
    text = stopped(DRAWN, wall(450.0, 40.0)[0])
    assert "A dam, a slide" in text
    assert "along 8" in text


def test_a_bar_that_leaves_water_beside_it_is_no_wall():
    assert warnings(DRAWN, wall(450.0, 5.0, right=-10.0)[0]) == []


def test_a_low_step_is_no_wall():
    assert warnings(DRAWN, wall(450.0, 5.0, rise=0.6)[0]) == []
