"""Bars and graded patches: each is looked at in its own window, whatever else is on the raster."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import ndimage

from reachmap.angler.bars import bars_layer
from reachmap.angler.wading import GRADES, NONE, UNKNOWN
from reachmap.angler.wading_settings import WadingSettings
from reachmap.angler.zones import _patches
from reachmap.base.patches import EIGHT, FOUR
from tests.angler.hand import flat_view

SIZE = 30
SMALL = WadingSettings(zone_low_m2=1.0)


def view_with(islands):
    """Return a pool with level dry rim, one bar a window, each with water and height of its own."""
    view = flat_view(size=SIZE)
    wet = np.zeros((SIZE, SIZE), dtype=bool)
    wet[1:-1, 1:-1] = True
    bed, level = np.full(wet.shape, 99.0), np.full(wet.shape, 100.0)
    land = ~wet
    for window, height, water in islands:
        around = tuple(slice(one.start - 1, one.stop + 1) for one in window)
        level[around] = water
        wet[window], bed[window] = False, water + height
    level[~wet] = np.nan
    return replace(view, wet=wet, dry=~wet, land=land, bed=bed, level=level, depth=level - bed)


def test_a_bar_stands_as_high_as_it_does_over_the_water_beside_it_alone():
    islands = [
        ((slice(4, 7), slice(5, 9)), 0.3, 100.0),
        ((slice(12, 13), slice(20, 21)), 0.7, 101.0),
        ((slice(20, 26), slice(3, 6)), 1.1, 99.5),
        # an L, and a rock between its arms
        ((slice(14, 20), slice(10, 11)), 0.5, 100.0),
        ((slice(19, 20), slice(10, 16)), 0.5, 100.0),
        ((slice(16, 17), slice(13, 15)), 2.0, 100.0),
    ]
    view = view_with(islands)
    grade = np.where(view.wet, UNKNOWN, NONE).astype(np.uint8)
    bars = bars_layer(view, grade, SMALL)
    assert sorted(bars["height_m"]) == pytest.approx([0.3, 0.5, 0.7, 1.1, 2.0])
    by_area = dict(zip(bars["area_m2"], bars["height_m"], strict=True))
    assert by_area == pytest.approx({12.0: 0.3, 1.0: 0.7, 18.0: 1.1, 11.0: 0.5, 2.0: 2.0})


def test_patches_of_a_grade_are_numbered_as_on_the_whole_raster():
    chance = np.random.default_rng(8)
    wet = np.zeros((40, 50), dtype=bool)
    wet[12:30, 0:44] = chance.random((18, 44)) < 0.9
    grade = np.where(wet, chance.integers(1, 5, wet.shape), NONE).astype(np.uint8)
    grade[~wet & (chance.random(wet.shape) < 0.7)] = UNKNOWN  # most of it far from any water
    view = replace(flat_view(), wet=wet)
    numbers, codes = _patches(view, grade)
    expected, count = np.zeros(grade.shape, dtype=int), 0
    about = ndimage.binary_dilation(wet, EIGHT, iterations=2)
    for code in GRADES:
        mask = (grade == code) & (about if code == UNKNOWN else True)
        labels, found = ndimage.label(mask, FOUR)
        expected[mask] = labels[mask] + count
        assert codes[count + 1 : count + 1 + found] == [code] * found
        count += found
    assert len(codes) == count + 1
    assert (numbers == expected).all()
