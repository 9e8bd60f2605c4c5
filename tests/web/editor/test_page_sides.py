"""Which side of the river a mark lies on, by most of its outline."""

import math

import numpy as np
import pytest
import shapely

from tests.web.editor.test_page_logic import run  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_side_of_the_river_looking_downstream(run):  # noqa: F811
    line = [[-141.3, 46.2], [-141.29, 46.2]]
    above = [[[-141.298, 46.2005], [-141.292, 46.2005], [-141.292, 46.201], [-141.298, 46.201]]]
    below = [[[x, 92.4 - y] for x, y in above[0]]]
    assert run("sides", "m.sideByOutline(...values)", line, above)["side"] == "left"
    assert run("sides", "m.sideByOutline(...values)", line, below)["side"] == "right"
    assert run("sides", "m.sideByOutline(...values)", line[::-1], above)["side"] == "right"
    assert run("sides", "m.sideByOutline(...values)", None, above) is None
    across = [[[-141.298, 46.199], [-141.292, 46.199], [-141.292, 46.201], [-141.298, 46.201]]]
    assert run("sides", "m.sideProposed(...values)", line, [], across)["side"] == ""


def bend(radius_m, turn=1.0):
    """Return a half circle round HOME going against the clock, in degrees."""
    angles = np.linspace(0, math.pi * turn, 40)
    east = radius_m / (111_320 * math.cos(math.radians(46.2)))
    north = radius_m / 111_320
    return [[-141.3 + east * math.cos(a), 46.2 + north * math.sin(a)] for a in angles]


def test_a_long_bank_round_a_bend_is_told_by_its_outline_not_by_its_centre(run):  # noqa: F811
    line = bend(200)  # against the clock: the centre of the bend lies to the left
    outer = [bend(220) + bend(260)[::-1]]
    middle = shapely.Polygon(outer[0]).centroid
    assert shapely.Polygon(line).contains(middle)  # where the centre would say left
    told = run("sides", "m.sideProposed(...values)", line, [], outer)
    assert told["side"] == "right"
    assert told["share"] > 0.95
    inner = [bend(140) + bend(180)[::-1]]
    assert run("sides", "m.sideProposed(...values)", line, [], inner)["side"] == "left"


def test_ground_between_the_main_line_and_a_side_channel_is_an_island(run):  # noqa: F811
    line, channel = bend(200), bend(120)
    island = [bend(140, 0.8) + bend(180, 0.8)[::-1]]
    assert run("sides", "m.sideProposed(...values)", line, [channel], island)["side"] == "island"
    bank = [bend(60) + bend(100)[::-1]]
    assert run("sides", "m.sideProposed(...values)", line, [channel], bank)["side"] == "left"
