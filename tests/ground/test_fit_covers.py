"""Roughness by class of cover: exact cases of the posterior, and recovery on a made river."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from shapely import LineString, Point

from reachmap.base.words import COVER_CODES, Cover, SpeedHow
from reachmap.ground import GroundSettings, build_ground
from reachmap.ground.cover_classes import CHANNEL, UNKNOWN_COVER, by_cover, wet_covers
from reachmap.ground.fit import Problem, fit, gather, softened
from reachmap.ground.scaling import scaled
from reachmap.markup.model import Edge, Origin, Speed
from scripts.fit_cases import SETTINGS as COARSE
from scripts.fit_cases import TRUE, noted
from scripts.measure_fit import QUICK, scores
from tests.ground.scenes import drawing, pool_riffle

SETTINGS = GroundSettings()
RULES = SETTINGS.fitting
BRUSH, TREES = COVER_CODES[Cover.BRUSH], COVER_CODES[Cover.TREES]
SIDE = 12
FLOW = 50.0
DRAWN = drawing(pool_riffle(length=300), 20.0)
"""Only its notes are looked at."""


def flat():
    """Known ground: brush in the north, channel in the middle, trees that stay dry in the south."""
    at = np.arange(SIDE) * 2.0
    cover = np.full((SIDE, SIDE), CHANNEL, dtype=np.uint8)
    cover[:4], cover[10:] = BRUSH, TREES
    full = np.ones((SIDE, SIDE))
    fields = {
        "bed": full, "surface": full, "confidence": full, "station": full * at, "cover": cover,
        "roughness": np.where(cover == BRUSH, 0.07, 0.035),
    }  # fmt: skip
    attrs = {"vertical": "dem", "low_line_station": [0.0, 24.0], "low_line_level": [0.5, 0.5]}
    data = {name: (("y", "x"), values) for name, values in fields.items()}
    return xr.Dataset(data, coords={"x": at, "y": at[::-1]}, attrs=attrs)


def sheet(ground, flows):
    """A sheet of water, 1 m deep, whose speed goes with the flow and 1 / n; the trees stay dry."""
    dry = ground["cover"].to_numpy() == TREES
    depth = np.where(dry, np.nan, 1.0)
    speeds = [
        np.where(dry, np.nan, 0.07 / ground["roughness"].to_numpy() * flow / FLOW) for flow in flows
    ]
    fields = {
        "depth": np.stack([depth] * len(flows)),
        "level": np.stack([depth + 1] * len(flows)),
        "east_speed": np.stack(speeds),
        "north_speed": np.zeros((len(flows), SIDE, SIDE)),
    }
    data = {name: (("flow", "y", "x"), values) for name, values in fields.items()}
    return xr.Dataset(data, coords={"flow": flows, "x": ground["x"], "y": ground["y"]})


def timed(row, speed, count):
    ground = flat()
    place = Point(float(ground["x"][5]), float(ground["y"][row]))
    return (Speed(place, speed, FLOW, SpeedHow.MEAN),) * count


def fitted(speeds):
    return fit(flat(), replace(DRAWN, speeds=speeds), sheet, SETTINGS)


def error_of(speed):
    own = RULES.speed_error_m_s + RULES.speed_error_share * speed
    return float(np.hypot(own, RULES.model_speed_share * speed))


def test_the_doubt_left_is_that_of_the_normal_equations_with_the_gauges_error():
    """Speed goes with q / n, so that by hand H = N (v/e)^2 [[1, -1], [-1, 1]] + prior."""
    found = fitted(timed(1, 1.0, 10))
    told = 10 * (1.0 / error_of(1.0)) ** 2
    whole = np.diag([SETTINGS.spread.cover_doubt**-2.0, RULES.flow_error**-2.0])
    whole += told * np.array([[1.0, -1.0], [-1.0, 1.0]])
    by_hand = np.sqrt(np.linalg.inv(whole)[0, 0])
    assert found.covers["brush"].roughness == pytest.approx(1.0, abs=0.01)
    assert found.covers["brush"].doubt == pytest.approx(by_hand, rel=0.04)
    assert by_hand > 1.1 / np.sqrt(told + SETTINGS.spread.cover_doubt**-2.0)


def test_many_notes_find_the_factor_and_no_more_is_believed_than_the_gauge_allows():
    found = fitted(timed(1, 1.0 / 1.5, 400))
    assert found.covers["brush"].roughness == pytest.approx(1.5, rel=0.06)
    assert found.covers["brush"].doubt == pytest.approx(RULES.flow_error, rel=0.1)
    assert found.roughness == pytest.approx(1.0, abs=0.01)  # no note was taken of the channel


def test_a_class_is_never_surer_than_the_surest():
    rules = replace(RULES, flow_error=1e-3)
    speeds = replace(DRAWN, speeds=timed(1, 1.0, 4000))
    found = fit(flat(), speeds, sheet, replace(SETTINGS, fitting=rules))
    assert found.covers["brush"].doubt == RULES.surest


def test_a_class_without_water_or_without_a_note_is_left_as_it_was():
    found = fitted(timed(6, 2.0, 5))  # in the channel; brush under water, trees dry
    assert set(wet_covers(flat(), sheet(flat(), [FLOW]))) == {"brush"}
    assert found.covers == {}
    assert found.roughness_doubt < RULES.roughness_pull


def test_notes_in_the_channel_and_in_brush_are_told_apart():
    found = fitted((*timed(1, 1 / 1.4, 60), *timed(6, 2 / 0.8, 60)))
    assert found.covers["brush"].roughness == pytest.approx(1.4, rel=0.1)
    assert found.roughness == pytest.approx(0.8, rel=0.1)


def test_notes_are_softened_and_the_pull_is_not():
    notes = gather(flat(), replace(DRAWN, speeds=timed(1, 1.0, 1)), RULES)
    problem = Problem(flat(), notes, sheet, SETTINGS, ("brush",))
    logs = np.array([0.0, 0.0, 1.0, 0.0])
    off = (np.exp(-1.0) - 1.0) / error_of(1.0)
    assert problem.residuals(logs)[0] == pytest.approx(-np.sqrt(2 * (np.sqrt(1 + off**2) - 1)))
    pull = [0.0, 0.0, 1 / SETTINGS.spread.cover_doubt, 0.0]
    assert problem.residuals(logs)[1:] == pytest.approx(pull)
    assert softened(np.array([1e-3, -1e-3])) == pytest.approx([1e-3, -1e-3], rel=1e-4)
    assert softened(np.array([100.0]))[0] < 15


def test_scaling_goes_by_class_and_a_class_not_named_stays():
    ground = flat()
    moved = scaled(ground, 1.2, 1.0, SETTINGS, {"brush": 0.5})
    ratio = (moved["roughness"] / ground["roughness"]).to_numpy()
    assert ratio[:4] == pytest.approx(np.full((4, SIDE), 0.5))
    assert ratio[4:10] == pytest.approx(np.full((6, SIDE), 1.2))
    assert ratio[10:] == pytest.approx(np.ones((2, SIDE)))


def test_bare_gravel_is_the_channels_and_unsaid_ground_is_a_class_of_its_own():
    codes = np.array([0, COVER_CODES[Cover.GRAVEL], COVER_CODES[Cover.SAND]], dtype=np.uint8)
    assert by_cover(codes, 2.0, {UNKNOWN_COVER: 3.0}, 4.0) == pytest.approx([3.0, 2.0, 4.0])


@pytest.mark.slow
@pytest.mark.compiled
def test_true_factors_lie_within_twice_the_stated_doubt_on_a_made_river():
    river = noted(1, 12, even=True)
    ground = build_ground(river.notes, river.case.dem, COARSE)
    found = scores(fit(ground, river.notes, QUICK, COARSE), river.true)
    assert set(found) == set(TRUE)
    assert all(abs(off) <= 2 for _, _, off in found.values())
    assert found["grass"][0] < 0.9 < 1.15 < found["brush"][0]


def test_many_speeds_of_one_drift_weigh_as_a_few():
    """The sum of 1 / error^2 is what notes are worth."""

    def worth(count, group, origin=Origin.FLOAT):
        place = [Point(2.0 * (k % SIDE), 10.0) for k in range(count)]
        speeds = tuple(Speed(p, 1.0, FLOW, SpeedHow.SURFACE, origin, group) for p in place)
        return float((1 / gather(flat(), replace(DRAWN, speeds=speeds), RULES).error ** 2).sum())

    one = worth(1, "")
    assert worth(50, "float.gpx") == pytest.approx(RULES.float_worth * one)
    assert worth(3, "float.gpx") == pytest.approx(3 * one)
    assert worth(50, "") == pytest.approx(50 * one)


def test_an_edge_walked_with_a_phone_is_surer_on_flat_ground_than_on_a_slope():
    """Ground that rises 1 in 10 to the east: 4 m off is 0.4 m of height."""
    steep = flat()
    steep["bed"] = steep["bed"] * 0 + 0.1 * steep["x"]
    line = LineString([(10, 8), (12, 8)])

    def error(ground, origin):
        edges = (Edge(line, FLOW, "", origin),)
        return gather(ground, replace(DRAWN, edges=edges), RULES).error

    slope = np.hypot(RULES.edge_error_m, 0.1 * RULES.walked_place_m)
    assert error(steep, Origin.WALK) == pytest.approx(slope)
    assert error(flat(), Origin.WALK) == pytest.approx(RULES.edge_error_m)
    assert error(steep, Origin.DRAWN) == pytest.approx(RULES.edge_error_m)
