"""Colours, judged by an outside library: colorspacious 1.1.2 (PyPI).

Colour-blind eyes as Machado, Oliveira and Fernandes (2009), IEEE TVCG 15:1291,
at full severity; how far colours look apart by CAM02-UCS (Luo, Cui and Li 2006, Color Res. Appl.
31:320); both as that library has them. Contrast by WCAG 2.2, section 1.4.11 (3:1 for graphics) and
1.4.3 (4.5:1 for writing): from memory.
"""

from itertools import combinations, pairwise

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE

from reachmap.base.words import UnitSystem
from reachmap.outputs.palette import (
    BEHIND,
    BY_KIND,
    FISHING,
    INK,
    LAMP,
    NIGHT,
    PAPER,
    PLAIN_DAY,
    PLAIN_NIGHT,
    STYLES,
    WADING,
    Pattern,
    Shape,
    ramps,
)

SIGHTS = ("normal", "deuteranomaly", "protanomaly", "tritanomaly")
LIGHTS = ("day", "night")
APART = 9.0
"""CAM02-UCS distance that kinds side by side must keep (our choice; about 1 is just seen)."""

STEP = 6.0
"""The same for neighbouring steps of a ramp."""


def rgb(colour):
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255


def seen(colour, sight):
    if sight == "normal":
        return rgb(colour)
    space = {"name": "sRGB1+CVD", "cvd_type": sight, "severity": 100}
    return np.clip(cspace_convert(rgb(colour), space, "sRGB1"), 0, 1)


def apart(first, second, sight):
    return float(deltaE(seen(first, sight), seen(second, sight), input_space="sRGB1"))


def contrast(first, second):
    def luminance(colour):
        part = rgb(colour)
        linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_here_is_that_of_the_standard():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("group", [FISHING, WADING, BEHIND], ids=["fishing", "wading", "behind"])
def test_kinds_side_by_side_differ_in_colour_and_in_pattern(group, sight, light):
    for first, second in combinations((BY_KIND[kind] for kind in group), 2):
        one, other = getattr(first, light), getattr(second, light)
        best = max(apart(one.fill, other.fill, sight), apart(one.ink, other.ink, sight))
        assert best >= APART, (first.kind, second.kind, best)
        assert first.pattern != second.pattern


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("sight", SIGHTS)
def test_deeper_and_faster_water_is_darker_at_every_step_for_every_eye(sight, light):
    for ramp in ramps(UnitSystem.US):
        colours = getattr(ramp, light)
        bright = [cspace_convert(seen(c, sight), "sRGB1", "CIELab")[0] for c in colours]
        assert all(upper > lower + 5 for upper, lower in pairwise(bright))
        assert all(apart(a, b, sight) >= STEP for a, b in pairwise(colours))


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.kind)
def test_every_line_shows_on_every_water(style, light):
    tone = getattr(style, light)
    waters = [colour for ramp in ramps(UnitSystem.US) for colour in getattr(ramp, light)]
    waters.append(PLAIN_DAY if light == "day" else PLAIN_NIGHT)
    worst = min(max(contrast(tone.ink, water), contrast(tone.casing, water)) for water in waters)
    assert worst >= 3.0
    assert contrast(tone.ink, tone.casing) >= 4.5


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize(
    "style", [s for s in STYLES if s.pattern is not Pattern.NONE], ids=lambda s: s.kind
)
def test_every_pattern_shows_on_its_own_colour(style, light):
    tone = getattr(style, light)
    if style.shape is Shape.MARK or not tone.fill:
        return
    assert contrast(tone.pattern, tone.fill) >= 3.0


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("light", LIGHTS)
def test_unknown_water_is_never_taken_for_a_step_of_depth(light, sight):
    unknown = getattr(BY_KIND["unknown_water"], light).fill
    for ramp in ramps(UnitSystem.US):
        assert min(apart(unknown, colour, sight) for colour in getattr(ramp, light)) >= 5.0


def test_writing_on_paper_and_at_night_can_be_read():
    assert contrast(INK, PAPER) >= 7
    assert contrast(LAMP, NIGHT) >= 7


def test_ramps_step_in_whole_feet_or_in_tenths_of_a_metre():
    depth, _ = ramps(UnitSystem.US)
    assert depth.bounds[3] == pytest.approx(3 * 0.3048, abs=1e-4)
    assert ramps(UnitSystem.METRIC)[0].bounds[3] == pytest.approx(0.9)


@pytest.mark.parametrize("units", list(UnitSystem))
@pytest.mark.parametrize("deepest", [0.0, 1.0, 2.2, 3.1, 4.5, 7.0, 12.0])
def test_tints_span_the_river_at_hand_and_stay_close_where_one_wades(units, deepest):
    depth, speed = ramps(units, deepest)
    step = depth.bounds[1]
    assert [round(bound / step) for bound in depth.bounds[:4]] == [0, 1, 2, 3]
    assert all(upper - lower > 0.9 * step for lower, upper in pairwise(depth.bounds))
    assert len(depth.bounds) == len(depth.day) == len(depth.night)
    if deepest > 8 * step:
        assert 0.65 * deepest < depth.bounds[-1] < 0.95 * deepest
    assert speed.bounds == ramps(units)[1].bounds


@pytest.mark.parametrize("light", LIGHTS)
def test_slow_water_has_no_colour_of_gravel_or_leaves(light):
    """Gravel, sand and leaves are yellow to green; water is blue to violet (CIELab hue)."""
    for ramp in ramps(UnitSystem.US):
        for colour in getattr(ramp, light)[1:]:
            _, green_red, blue_yellow = cspace_convert(rgb(colour), "sRGB1", "CIELab")
            assert blue_yellow < 0
            assert blue_yellow < green_red or green_red > -25
