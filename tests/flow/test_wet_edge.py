import numpy as np
import pytest
import xarray as xr
from shapely import Point

from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, solve
from reachmap.flow.wet_edge import edge_lines, wet_polygons
from tests.flow.made_channels import island_ground
from tests.made import made_ground

PROFILE = FlowSettings(method="profile")


def test_the_edge_of_a_parabola_lies_where_the_level_cuts_it():
    ground = made_ground(length=400, half_width=20, deep=1.5, cell=2.0)
    one = solve(ground, [12.0], PROFILE).isel(flow=0)
    fill = float((one["level"] - (100 - 0.002 * ground["station"])).mean())
    half = 20 * np.sqrt(1 + fill / 1.5)
    left, right = edge_lines(one, ground)
    assert len(left) == len(right) == 1
    middle = ground["line_y"].to_numpy()[0]
    assert np.array(left[0].coords)[:, 1] - middle == pytest.approx(half, abs=0.12)
    assert np.array(right[0].coords)[:, 1] - middle == pytest.approx(-half, abs=0.12)
    for edge in (*left, *right):
        assert edge.coords[-1][0] > edge.coords[0][0]


@pytest.mark.compiled
def test_edges_move_smoothly_with_the_stage():
    ground = made_ground(length=300, half_width=20, deep=1.5)
    flows = np.linspace(10, 11, 6)
    result = solve(ground, flows, PROFILE)
    area = np.array([wet_polygons(result.isel(flow=i), ground)[0].area for i in range(6)])
    growth = np.diff(area)
    assert (growth > 0).all()
    assert growth.max() < 1.6 * growth.min()


@pytest.mark.compiled
def test_left_is_left_on_a_river_that_turns_back():
    ground = made_ground(length=700, wavelength=350, turn_deg=75, half_width=12, margin=20)
    one = solve(ground, [10.0], PROFILE).isel(flow=0)
    left, right = edge_lines(one, ground)
    for edges, sign in ((left, 1), (right, -1)):
        points = np.concatenate([np.array(edge.coords) for edge in edges])
        x, y = (xr.DataArray(points[:, axis], dims="n") for axis in (0, 1))
        offset = ground["offset"].sel(x=x, y=y, method="nearest")
        assert float((np.sign(offset) == sign).mean()) > 0.99
    assert sum(edge.length for edge in left) == pytest.approx(700, rel=0.15)


@pytest.mark.compiled
def test_an_island_is_a_ring():
    ground = island_ground()
    one = solve(ground, [30.0], PROFILE).isel(flow=0)
    largest = wet_polygons(one, ground)[0]
    assert len(largest.interiors) == 1
    middle = Point(500_300, float(ground["line_y"][0]) + 19)
    assert not largest.contains(middle)
    assert largest.convex_hull.contains(middle)


def test_water_next_to_unknown_ground_ends_before_it():
    ground = made_ground(length=300, half_width=15)
    blind = (abs(ground["station"] - 150) < 10) & (ground["offset"] > 4)
    ground["bed"] = ground["bed"].where(~blind)
    one = solve(ground, [10.0], PROFILE).isel(flow=0)
    shapes = wet_polygons(one, ground)
    x, y = np.meshgrid(ground["x"], ground["y"])
    for px, py in zip(x[blind], y[blind], strict=True):
        assert not any(shape.contains(Point(px, py)) for shape in shapes)
    assert bool((one["wet"].where(blind, Wet.UNKNOWN) == Wet.UNKNOWN).all())


def test_a_dry_map_has_no_edges():
    ground = made_ground(length=300, half_width=15)
    one = solve(ground, [10.0], PROFILE).isel(flow=0)
    dry = one.assign(wet=one["wet"] * 0)
    assert wet_polygons(dry, ground) == []
    assert edge_lines(dry, ground) == ([], [])
