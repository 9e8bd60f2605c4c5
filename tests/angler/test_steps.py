"""Water about a step of the river's level, or a drawn ledge, is not graded."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString

from reachmap.angler import odds
from reachmap.angler.steps import below_ledges, step_stretches
from reachmap.angler.view import ground_view
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.words import HazardKind
from reachmap.markup.model import Hazard
from tests.angler.test_wading import grades, pond
from tests.made import made_ground

WADE = WadingSettings()
LONG = replace(pond(["#" * 40, "." * 40]), width=6.0)
"""Stations 0 to 78 m; the first and the last width of 6 m are the ends of the reach."""


def falling(*falls, length=80.0, slope=0.004):
    """Return a level line of a slope with falls: station, height, length [m] of each."""
    station = np.arange(0.0, length + 1, 2.0)
    level = 100.0 - slope * station
    for at, height, run in falls:
        level = level - height * np.clip((station - at) / run, 0, 1)
    return station, level


def lip_at(view, col):
    """Return a line across the river in a column of cells."""
    return LineString(view.grid.points(np.array([0, 1]), np.array([col, col])))


def stretches(*falls, **more):
    return step_stretches(falling(*falls, **more), 6.0, WADE).tolist()


def test_a_ledge_is_a_step_and_a_riffle_is_none():
    # a ledge of 0.5 m over 4 m; a riffle of 1.7 %, the steepest of the rivers the odds are from
    ((first, last),) = stretches((36, 0.5, 4))
    # half a width over its lip, as far up as 10 m of river hold a fall of 0.2 m, two widths below
    assert 25 <= first <= 33
    assert 48 <= last <= 62
    assert stretches((20, 0.51, 30), slope=0.0) == []
    assert stretches((20, 0.17, 10), slope=0.0) == []
    assert len(stretches((20, 0.21, 10), slope=0.0)) == 1


def test_a_rising_level_and_a_river_without_a_level_line_hold_no_step():
    assert stretches((36, -0.5, 4)) == []
    assert step_stretches((np.zeros(0), np.zeros(0)), 6.0, WADE).shape == (0, 2)


def test_steps_near_one_another_are_one_stretch_and_others_two():
    assert len(stretches((20, 0.5, 4), (40, 0.5, 4))) == 1
    assert len(stretches((20, 0.5, 4), (140, 0.5, 4), length=200)) == 2


def test_points_far_apart_hide_no_step():
    # as on a long river, whose line is thinned to a few hundred points
    station = np.arange(0.0, 200.0, 40.0)
    level = 100.0 - 0.3 * (station > 60)
    assert len(step_stretches((station, level), 6.0, WADE)) == 1


def test_no_water_is_graded_about_a_step():
    view = replace(LONG, low_line=falling((36, 0.5, 4)))
    told = grades(view)[1]
    # down to two widths below the end of the fall, 40 + 12 m; from the lip, 36 m, at the latest
    assert set(told[18:27]) == {"u"}
    assert told[5:11] == "e" * 6
    assert told[32:36] == "e" * 4
    assert not odds.gradable(view, WADE)[1, 20]


def test_a_bed_surveyed_under_water_is_graded_about_a_step_and_a_ledge():
    view = replace(LONG, low_line=falling((36, 0.5, 4)), bed_seen=True)
    lip = lip_at(view, 18)
    far = replace(WADE, hazard_reach_m=0.0, drift_high_m=0.0, doubt=0.0, smooth_m=0.0)
    ledge = Hazard(lip, HazardKind.LEDGE, "")
    assert "u" not in grades(view, hazards=[ledge], settings=far)[1][4:36]


@pytest.mark.parametrize("kind", [HazardKind.LEDGE, HazardKind.OTHER])
def test_no_water_is_graded_about_a_drawn_ledge(kind):
    told = grades(LONG, hazards=[Hazard(lip_at(LONG, 18), kind, "")])[1]
    below = told[21:24]  # to 12 m below station 36; the cells beside the hazard itself are shut
    assert below == ("uuu" if kind is HazardKind.LEDGE else "eee")
    assert told[27:36] == "e" * 9


def test_half_a_width_above_and_two_widths_below_a_ledge_count():
    ledge = Hazard(lip_at(LONG, 18), HazardKind.LEDGE, "")
    about = LONG.station[1][below_ledges(LONG, [ledge], WADE)[1]]
    # the lip touches the cells at 36 and 38 m, the river is 6 m wide: from 33 to 50 m
    assert about.tolist() == list(range(34, 51, 2))


def test_the_level_line_is_taken_from_the_ground():
    ground = made_ground(length=120)
    assert ground_view(ground).low_line[0].size == 0
    station, level = falling((36, 0.5, 4))
    with_line = ground.assign_attrs(low_line_station=station, low_line_level=level)
    np.testing.assert_array_equal(ground_view(with_line).low_line, (station, level))
    one = ground.assign_attrs(low_line_station=0.0, low_line_level=1.0)  # as read from a file
    assert ground_view(one).low_line[1].shape == (1,)
