"""Smooth water of the small maps against shapes whose area is known, and the line one walks."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pytest
import xarray as xr
from shapely import Point

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem, Wet
from reachmap.outputs.sheet.walked import APART_M, walked_line
from reachmap.outputs.sheet.water import smooth_water
from tests.made import CRS

CELL, SIDE = 2.0, 60


def bowl(*, radius: float, deepest: float, unknown=None, off=None):
    """Return ground and flow of a round bowl, a cone of water: depth falls evenly to its rim."""
    at = (np.arange(SIDE) + 0.5) * CELL
    x, y = np.meshgrid(at, at[::-1])
    away = np.hypot(x - SIDE * CELL / 2, y - SIDE * CELL / 2)
    depth = deepest * (1 - away / radius)
    wet = np.where(depth > 0, Wet.YES, Wet.NO).astype(np.int8)
    bed = np.where(depth > 0, 10.0 - depth, 10.5)
    if unknown is not None:
        depth = np.where(unknown(x, y), np.nan, depth)
        wet = np.where(unknown(x, y), Wet.UNKNOWN, wet)
    if off is not None:
        bed, wet = np.where(off(x, y), np.nan, bed), np.where(off(x, y), Wet.NO, wet)
        depth = np.where(off(x, y), np.nan, depth)
    places = {"y": at[::-1], "x": at}
    depth = np.where(wet == Wet.YES, depth, np.nan)
    ground = xr.Dataset({"bed": (("y", "x"), bed)}, places, {"crs": CRS, "cell": CELL})
    flow = xr.Dataset({"depth": (("y", "x"), depth), "wet": (("y", "x"), wet)}, places)
    return ground, flow


def water(ground, flow, units=UnitSystem.US):
    return smooth_water(ground, flow, (0.0, 0.0, SIDE * CELL, SIDE * CELL), units)


def test_steps_of_depth_are_rings_of_a_cone():
    # a cone of depth h over radius R: water deeper than d lies within R (1 - d / h)
    radius, deepest = 48.0, 3.0
    found = water(*bowl(radius=radius, deepest=deepest))
    two, four = (to_si(feet, "ft") for feet in (2.0, 4.0))
    areas = [step.area for step in found.steps]
    inner = [math.pi * (radius * (1 - (d - 0.05) / deepest)) ** 2 for d in (0.05, two, four)]
    assert areas[2] == pytest.approx(inner[2], rel=0.05)
    assert areas[1] == pytest.approx(inner[1] - inner[2], rel=0.05)
    assert sum(areas) == pytest.approx(inner[0], rel=0.06)


def test_water_is_never_drawn_shallower_than_it_is():
    ground, flow = bowl(radius=48.0, deepest=3.0)
    found = water(ground, flow)
    depth = flow["depth"].to_numpy()
    for row, column in np.argwhere(depth > to_si(4.0, "ft")):
        place = Point(float(ground["x"][column]), float(ground["y"][row]))
        assert found.steps[2].buffer(CELL * 0.02).covers(place)


def test_the_edge_is_one_clean_line_without_the_steps_of_the_cells():
    found = water(*bowl(radius=48.0, deepest=3.0))
    assert found.edge.length == pytest.approx(2 * math.pi * 48.0, rel=0.05)  # steps: 27 % longer
    away = (
        [math.hypot(x - 60, y - 60) for x, y in found.edge.geoms[0].coords]
        if hasattr(found.edge, "geoms")
        else [math.hypot(x - 60, y - 60) for x, y in found.edge.coords]
    )
    assert max(away) - min(away) < 0.75 * CELL


@pytest.mark.parametrize("cells", [1, 2, 5])
def test_however_little_is_unknown_it_is_drawn(cells):
    middle = SIDE * CELL / 2
    lost = lambda x, y: (abs(x - middle) < cells * CELL / 2) & (abs(y - middle) < cells * CELL / 2)  # noqa: E731
    ground, flow = bowl(radius=48.0, deepest=3.0, unknown=lost)
    found = water(ground, flow)
    x, y = np.meshgrid(ground["x"], ground["y"])
    for place in zip(x[lost(x, y)], y[lost(x, y)], strict=True):
        assert found.unknown.covers(Point(place))


def test_wet_ground_without_a_depth_is_unknown():
    ground, flow = bowl(radius=48.0, deepest=3.0)
    flow["depth"].to_numpy()[30, 30] = np.nan
    found = water(ground, flow)
    assert found.unknown.covers(Point(float(flow["x"][30]), float(flow["y"][30])))


def test_no_edge_is_drawn_where_the_map_ends_in_the_river():
    end = lambda x, y: y < 40.0  # noqa: E731, ARG005
    found = water(*bowl(radius=48.0, deepest=3.0, off=end))
    assert found.edge.distance(Point(60.0, 40.0)) > 20.0
    assert found.steps[2].distance(Point(60.0, 43.0)) < CELL
    assert found.steps[1].distance(Point(60.0, 41.0)) > 5.0  # it does not shoal towards the end
    assert all(step.bounds[1] > 40.0 - CELL for step in found.steps if not step.is_empty)


def test_ground_without_water_gives_nothing():
    ground, flow = bowl(radius=48.0, deepest=3.0)
    flow["wet"].to_numpy()[:] = Wet.NO
    flow["depth"].to_numpy()[:] = np.nan
    found = water(ground, flow)
    assert all(step.is_empty for step in found.steps)
    assert found.edge.is_empty
    assert found.unknown.is_empty


def places(**columns):
    count = len(columns["station_m"])
    told = {"odds": [1.0] * count, "side": ["left"] * count} | columns
    spots = [
        Point(station, offset)
        for station, offset in zip(
            told["station_m"], told.pop("offset", [0.0] * count), strict=True
        )
    ]
    return gpd.GeoDataFrame(told, geometry=spots, crs=CRS)


def test_one_walks_from_the_top_of_the_stretch_to_its_foot():
    found = walked_line(places(station_m=[90.0, 10.0, 50.0, 30.0, 70.0]), 20.0, 80.0)
    assert [place.x for place in found.stands] == [30.0, 50.0, 70.0]
    assert (found.start.x, found.end.x) == (30.0, 70.0)
    assert (found.line.coords[0][0], found.line.coords[-1][0]) == (30.0, 70.0)


def test_of_places_close_together_the_best_is_walked_to():
    near = places(station_m=[60.5, 61.0, 62.0, 80.0], odds=[1.0, 9.0, 4.0, 1.0])
    assert [place.x for place in walked_line(near, np.nan, np.nan).stands] == [61.0, 80.0]
    assert APART_M > 1.5


def test_places_nobody_fishes_and_those_of_the_other_bank_are_left_out():
    mixed = places(
        station_m=[10.0, 20.0, 30.0, 40.0],
        odds=[1.0, np.nan, 1.0, 1.0],
        side=["left", "left", "right", "left"],
    )
    assert [place.x for place in walked_line(mixed, np.nan, np.nan).stands] == [10.0, 40.0]


def test_one_place_is_no_line_and_none_is_nothing():
    one = walked_line(places(station_m=[10.0]), 0.0, 50.0)
    assert (len(one.stands), one.line, one.end) == (1, None, None)
    none = walked_line(places(station_m=[10.0], odds=[np.nan]), 0.0, 50.0)
    assert (none.stands, none.start) == ((), None)


def test_corners_are_cut_and_never_passed():
    bent = walked_line(places(station_m=[0.0, 20.0, 40.0], offset=[0.0, 10.0, 0.0]), 0.0, 40.0)
    # Chaikin's corners lie on the lines between the places: none beyond them
    assert max(y for _, y in bent.line.coords) < 10.0
    assert min(y for _, y in bent.line.coords) >= 0.0
    assert len(bent.line.coords) > 6
