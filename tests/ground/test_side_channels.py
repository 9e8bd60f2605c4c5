"""Islands stay ground; side channels have beds that run only when water reaches them."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Polygon
from shapely.affinity import translate

from reachmap.base.words import Cover, Part, Side
from reachmap.ground import Dem, GroundSettings, build_ground, grid_of
from reachmap.markup.model import Bank, River
from tests.ground.said import said_of
from tests.ground.scenes import drawing, straight_trapezoid
from tests.made import ORIGIN_X as X
from tests.made import ORIGIN_Y as Y

SETTINGS = GroundSettings()
SLOPE = 0.002
BASE = drawing(straight_trapezoid(), 20.0)


def box(x0, y0, x1, y1, side, name, *, cover=Cover.GRAVEL, rise=1.5):
    ring = Polygon([(X + x0, Y + y0), (X + x1, Y + y0), (X + x1, Y + y1), (X + x0, Y + y1)])
    return Bank(name, ring, side, cover, rise, np.nan, "")


def line(*points):
    return LineString([(X + x, Y + y) for x, y in points])


MAIN = River("main", Part.MAIN, line((0, 3), (200, -2), (400, 1), (600, 3)))
SIDE = River("side", Part.SIDE, line((170, 22), (220, 44), (380, 44), (430, 22)))
LEFT = box(0, 50, 600, 80, Side.LEFT, "left")
RIGHT = box(0, -40, 600, -10, Side.RIGHT, "right")
ISLAND = box(200, 10, 400, 38, Side.ISLAND, "island", cover=Cover.BRUSH)
WET_SIDE = replace(BASE, rivers=(MAIN, SIDE), banks=(LEFT, RIGHT, ISLAND))


def at(ground, x, y, name="bed"):
    return float(ground[name].sel(x=X + x, y=Y + y, method="nearest"))


def flown(markup, heights):
    """Return a DEM with water at 99 - slope x wherever `heights` (x, y) lies below it."""
    grid = grid_of(markup, SETTINGS.cell, SETTINGS.margin_m)
    x, y = np.meshgrid(grid.x - X, grid.y - Y)
    water = 99 - SLOPE * x
    return Dem(np.maximum(heights(x, y), water).astype(np.float32), 10.0, "made")


def test_without_a_dem_both_branches_have_a_bed_and_the_island_none_below_water():
    ground = build_ground(WET_SIDE, None, SETTINGS)
    for x in (240, 300, 360):
        water = 100 - SLOPE * x
        assert at(ground, x, 0) < water - 0.2
        assert at(ground, x, 44) < water - 0.05
        assert at(ground, x, 24) > water + 0.5
    main_depth = 100 - SLOPE * 300 - at(ground, 300, 0)
    side_depth = 100 - SLOPE * 300 - at(ground, 300, 44)
    assert side_depth < main_depth  # 12 m wide against 20 m


def test_the_main_line_follows_the_main_branch():
    ground = build_ground(WET_SIDE, None, SETTINGS)
    assert abs(at(ground, 300, 0, "offset")) < 2.5
    assert at(ground, 300, 44, "offset") == pytest.approx(44, abs=2.5)
    width = np.interp(300, ground["line_station"], ground["line_width"])
    assert width == pytest.approx(20, abs=1.5)


def valley(x, y, *, side_bed):
    """Return ground: main channel to y = 10, island to 38, side channel to 50, banks beyond."""
    bank = 99 - SLOPE * x + 1.5
    bed = np.where(np.abs(y) < 10, bank - 3, bank)
    beside = (y > 38) & (y < 50) & (x > 190) & (x < 410)
    joined = (np.abs(y - 44) < 40) & (y > -10) & (y < 50) & ((x <= 200) | (x >= 400))
    bed = np.where(joined, bank - 2.5, bed)
    return np.where(beside, 99 - SLOPE * x + side_bed, bed)


def test_a_dry_side_channel_keeps_the_dems_bed():
    drawn = WET_SIDE
    dem = flown(drawn, lambda x, y: valley(x, y, side_bed=0.4))
    ground = build_ground(drawn, dem, SETTINGS)
    for x in (240, 300, 360):
        assert at(ground, x, 44) == pytest.approx(99 - SLOPE * x + 0.4, abs=0.02)
        assert at(ground, x, 44, "confidence") >= 0.9
        assert at(ground, x, 24) == pytest.approx(99 - SLOPE * x + 1.5, abs=0.02)
        assert at(ground, x, 0) < 99 - SLOPE * x - 0.2


def test_a_wet_side_channel_takes_its_share_of_the_low_flow():
    drawn = WET_SIDE
    with_water = build_ground(
        drawn, flown(drawn, lambda x, y: valley(x, y, side_bed=-0.5)), SETTINGS
    )
    without = build_ground(drawn, flown(drawn, lambda x, y: valley(x, y, side_bed=0.4)), SETTINGS)
    assert at(with_water, 300, 44) < 99 - SLOPE * 300 - 0.05
    assert at(with_water, 300, 44, "confidence") < 0.6
    # what runs beside is missing in the main branch
    assert at(with_water, 300, 0) > at(without, 300, 0) + 0.02


def test_a_side_channel_drawn_across_a_bank_runs_only_when_water_reaches_it():
    swale = River("swale", Part.SIDE, line((150, 12), (200, 30), (400, 30), (450, 12)))
    banks = (box(0, 10, 600, 50, Side.LEFT, "left", rise=2.0), RIGHT)
    drawn = replace(BASE, rivers=(MAIN, swale), banks=banks)
    ground = build_ground(drawn, None, SETTINGS)
    water = 100 - SLOPE * 300
    assert at(ground, 300, 30) > water + 0.2  # dry at the traced flow
    assert at(ground, 300, 30) < at(ground, 300, 40) - 0.2  # and lower than the ground beside it
    assert "was drawn across dry ground" in said_of(ground)


def test_an_island_the_dem_shows_but_nobody_drew_stays_ground():
    drawn = replace(BASE, rivers=(MAIN,), banks=(LEFT, RIGHT))

    def with_bar(x, y):
        bar = (np.abs(x - 300) < 60) & (np.abs(y - 20) < 8)
        return np.where(bar, 99 - SLOPE * x + 0.6, valley(x, y, side_bed=-1) * 0 + 97 - SLOPE * x
                        + np.where((y > 50) | (y < -10), 4.0, 0.0))  # fmt: skip

    ground = build_ground(drawn, flown(drawn, with_bar), SETTINGS)
    assert at(ground, 300, 20) == pytest.approx(99 - SLOPE * 300 + 0.6, abs=0.02)
    assert at(ground, 300, 0) < 99 - SLOPE * 300 - 0.1
    assert at(ground, 300, 40) < 99 - SLOPE * 300 - 0.1


def disagreements(markup, dem):
    notes = said_of(build_ground(markup, dem, SETTINGS)).splitlines()
    return [one for one in notes if one.startswith("Evidence disagrees") and "side" in one]


@pytest.mark.parametrize("side_bed", [-0.5, 0.4, 1.1], ids=["wet", "dry", "high and dry"])
def test_a_side_channel_where_the_dem_has_it_gives_no_message(side_bed):
    dem = flown(WET_SIDE, lambda x, y: valley(x, y, side_bed=side_bed))
    assert disagreements(WET_SIDE, dem) == []
    assert disagreements(WET_SIDE, None) == []


def test_a_side_channel_60_m_off_is_reported_with_where_the_low_ground_is():
    far = replace(SIDE, line=translate(SIDE.line, 0, 60))
    left = box(0, 50, 600, 130, Side.LEFT, "left")
    drawn = replace(WET_SIDE, rivers=(MAIN, far), banks=(left, RIGHT, ISLAND))
    text = disagreements(drawn, flown(drawn, lambda x, y: valley(x, y, side_bed=-0.5)))
    assert len(text) == 1
    assert (
        "river 'side': the DEM shows no low ground under it: 1.5 m above the main water" in text[0]
    )


def test_where_the_dem_has_a_channel_beside_the_drawn_one_it_is_said():
    swale = River("swale", Part.SIDE, line((150, 70), (200, 90), (400, 90), (450, 70)))
    drawn = replace(
        BASE, rivers=(MAIN, swale), banks=(box(0, 10, 600, 130, Side.LEFT, "left"), RIGHT)
    )
    text = disagreements(drawn, flown(drawn, lambda x, y: valley(x, y, side_bed=0.2)))
    assert len(text) == 1
    assert "1.5 m above the main water abreast of it, 0.2 m at about" in text[0]
    away = float(text[0].split("at about ")[1].split(" m")[0])
    assert away == pytest.approx(46, abs=12)
    assert "to its right" in text[0]


def test_a_side_channel_drawn_in_the_main_river_is_reported():
    inside = replace(SIDE, line=line((170, 6), (220, 5), (380, 5), (430, 6)))
    text = disagreements(replace(WET_SIDE, rivers=(MAIN, inside)), None)
    assert len(text) == 1
    assert "100% of this side channel lies in the main river" in text[0]


def test_the_ground_says_how_the_low_waters_level_came():
    dem = flown(WET_SIDE, lambda x, y: valley(x, y, side_bed=0.4))
    assert build_ground(WET_SIDE, dem, SETTINGS).attrs["low_how"] == "surface"
    assert build_ground(WET_SIDE, None, SETTINGS).attrs["low_how"] == "drawing"
