"""Where a stick is suggested: cover whose roughness moves water that matters, seen from a bank."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from reachmap.base.words import COVER_CODES, Cover
from reachmap.ground import GroundSettings
from reachmap.ground.cover_classes import CHANNEL
from reachmap.uncertainty.sticks import OPEN, StickSettings, suggest_sticks

SETTINGS = GroundSettings()
RULES = StickSettings()
SHAPE = (40, 60)
CELL = 2.0
BRUSH, GRASS = COVER_CODES[Cover.BRUSH], COVER_CODES[Cover.GRASS]
DOUBTS = {OPEN: 0.12, "brush": 0.28, "grass": 0.28}


def scene(chance=0.5, speed=0.8, depth=1.0):
    """A straight river from west to east at two flows: brush north, channel, grass south.

    Rows 4 to 35 are wet, the rims dry and known; `chance`, `speed` and `depth` broadcast to
    (flow, y, x).
    """
    rows, cols = SHAPE
    cover = np.full(SHAPE, CHANNEL, dtype=np.uint8)
    cover[:12], cover[28:] = BRUSH, GRASS
    wet = np.zeros((2, *SHAPE), dtype=bool)
    wet[:, 4:36] = True
    x, y = np.arange(cols) * CELL, np.arange(rows)[::-1] * CELL
    line = {
        "line_x": x, "line_y": np.full(cols, y.mean()), "line_station": x,
        "line_width": np.full(cols, 16.0),
    }  # fmt: skip
    ground = xr.Dataset(
        {
            "bed": (("y", "x"), np.zeros(SHAPE)),
            "cover": (("y", "x"), cover),
            **{name: (("vertex",), values) for name, values in line.items()},
        },
        coords={"x": x, "y": y},
        attrs={"cell": CELL},
    )
    dims = ("flow", "y", "x")

    def held(values):
        return dims, np.where(wet, values, np.nan)

    fields = {"depth": depth, "east_speed": speed, "north_speed": 0.0}
    water = xr.Dataset(
        {name: held(values) for name, values in fields.items()},
        coords={"flow": [20.0, 90.0], "x": x, "y": y},
    )
    return ground, water, xr.Dataset({"suits_chance": held(chance)}, coords=water.coords)


def at(stick):
    return np.unravel_index(stick.cell, SHAPE)


def only(*rows, value=0.5, other=0.0):
    """A field that is `value` on some rows."""
    field = np.full((2, *SHAPE), other)
    field[:, rows[0] : rows[1]] = value
    return field


def test_the_class_whose_doubt_moves_most_water_that_matters_comes_first():
    ground, water, doubt = scene(chance=only(4, 12))
    sticks, whole = suggest_sticks(ground, water, doubt, DOUBTS, SETTINGS, 3)
    assert {one.cover for one in sticks} == {"brush"}
    assert all(4 <= at(one)[0] < 12 for one in sticks)
    # by hand: the sum of p (1 - p) v^2 over 8 rows of two flows, times the variance of ln n
    assert whole == pytest.approx(2 * 8 * SHAPE[1] * 0.25 * 0.8**2 * 0.28**2)


def test_what_surely_suits_or_surely_does_not_is_worth_no_stick():
    chance = only(4, 12, value=1.0)
    chance[:, 28:36] = 0.2
    ground, water, doubt = scene(chance=chance)
    sticks, _ = suggest_sticks(ground, water, doubt, DOUBTS, SETTINGS, 2)
    assert {one.cover for one in sticks} == {"grass"}
    assert suggest_sticks(*scene(chance=1.0), DOUBTS, SETTINGS)[0] == []


def test_gains_follow_the_variance_that_each_stick_takes():
    ground, water, doubt = scene(chance=only(4, 12))
    sticks, whole = suggest_sticks(ground, water, doubt, DOUBTS, SETTINGS, 3)
    rules, v = SETTINGS.fitting, 0.8
    own = rules.speed_error_m_s + rules.speed_error_share * v
    told = v**2 / (own**2 + (rules.model_speed_share * v) ** 2)
    left = [1 / (1 + number * 0.28**2 * told) for number in range(4)]
    gains = [(left[k] - left[k + 1]) * whole for k in range(3)]
    assert [one.gain for one in sticks] == pytest.approx(gains)


def test_a_class_known_better_is_asked_for_less():
    ground, water, doubt = scene(chance=0.5)
    told = {**DOUBTS, "brush": 0.05}
    first = suggest_sticks(ground, water, doubt, told, SETTINGS, 1)[0][0]
    assert first.cover == "grass"
    none = dict.fromkeys(DOUBTS, 0.0)
    assert suggest_sticks(ground, water, doubt, none, SETTINGS)[0] == []


def test_the_channel_runs_deeper_where_it_is_rougher_and_its_speed_moves_less():
    ground, water, doubt = scene(chance=0.5)
    alike = dict.fromkeys(DOUBTS, 0.2)
    _, whole = suggest_sticks(ground, water, doubt, alike, SETTINGS, 1)
    cells = 2 * SHAPE[1] * np.array([8 + 8, 16 * RULES.channel_power**2])
    assert whole == pytest.approx(cells.sum() * 0.25 * 0.8**2 * 0.2**2)


def test_sticks_are_timed_within_a_throw_in_water_that_carries_them_and_apart():
    ground, water, doubt = scene(chance=only(12, 28))
    assert suggest_sticks(ground, water, doubt, DOUBTS, SETTINGS)[0] == []  # too far from dry land
    rules = StickSettings(throw_m=22.0)
    sticks, _ = suggest_sticks(ground, water, doubt, DOUBTS, SETTINGS, 4, rules)
    assert len(sticks) == 4
    rows = np.array([at(one)[0] for one in sticks])
    away = np.minimum(rows - 3, 36 - rows) * CELL
    assert (away <= rules.throw_m).all()
    places = np.array([at(one) for one in sticks]) * CELL
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    assert apart[~np.eye(len(sticks), dtype=bool)].min() >= RULES.apart_widths * 16.0
    for thin, slow in ((0.9 * RULES.least_depth_m, 0.8), (1.0, 0.9 * RULES.least_speed_m_s)):
        assert suggest_sticks(*scene(depth=thin, speed=slow), DOUBTS, SETTINGS)[0] == []


def test_the_flow_is_the_one_whose_speed_tells_most():
    speed = np.stack([np.full(SHAPE, 0.4), np.full(SHAPE, 1.2)])
    ground, water, doubt = scene(chance=0.5, speed=speed)
    assert {one.flow for one in suggest_sticks(ground, water, doubt, DOUBTS, SETTINGS, 3)[0]} == {
        90.0
    }
