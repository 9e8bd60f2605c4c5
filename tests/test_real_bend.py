"""The main job on open data nobody here made: a lidar DEM of a bend of a lowland river.

The data are the example of PyPI package scrollstats 0.1.5 (MIT licence), fetched by name with pip.
"""

import subprocess

import numpy as np
import pytest
import rasterio
import shapely
from rasterio.features import rasterize
from rasterio.transform import from_origin

import reachmap
from reachmap import flow, ground
from reachmap.base.words import Wet
from reachmap.flow.wet_edge import edge_lines, wet_polygons
from scripts import real_bend

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def bend(tmp_path_factory):
    home = tmp_path_factory.mktemp("bend")
    try:
        found = real_bend.fetch(home / "package")
    except (subprocess.SubprocessError, OSError) as error:
        pytest.skip(f"the package {real_bend.PACKAGE} cannot be fetched here: {error}")
    return home, found, real_bend.write_reach(found, home / "reach")


@pytest.fixture(scope="module")
def worked(bend):
    home, _, _ = bend
    reach = reachmap.open_reach(home / "reach").drawing
    settings = ground.GroundSettings(cell=2.0)
    grid = ground.grid_of(reach, settings.cell, settings.margin_m)
    dem = ground.read_dem(reach.dems, grid, reach.plan.dem)
    terrain = ground.build_ground(reach, dem, settings)
    return terrain, flow.solve(terrain, reach.plan.flows, flow.FlowSettings())


def covered(terrain, shape):
    """Return which cells' centres lie in a shape."""
    x, y, cell = terrain["x"].to_numpy(), terrain["y"].to_numpy(), float(terrain.attrs["cell"])
    where = from_origin(x[0] - cell / 2, y[0] + cell / 2, cell, cell)
    return rasterize([shape], (y.size, x.size), transform=where) > 0


def test_the_water_of_the_day_is_a_lowland_river(bend):
    _, found, water = bend
    assert 1e-4 < water.slope < 4e-4
    assert 60 < water.width < 130
    assert shapely.Point(found.line.interpolate(0.5, normalized=True)).within(water.outline)
    assert water.outline.intersection(found.bar).area < 0.03 * found.bar.area


def test_water_is_kept_and_more_flow_wets_more(worked):
    _, flows = worked
    assert float(flows["imbalance"].max()) < 0.01
    wet = (flows["wet"] == Wet.YES).to_numpy()
    assert (wet[1:] | ~wet[:-1]).all()
    area = wet.sum(axis=(1, 2)) * 4.0
    assert area[1] > 1.05 * area[0]
    assert area[2] > 1.05 * area[1]
    assert (np.diff(flows["depth"].median(("x", "y"))) > 0.3).all()


def test_low_water_lies_where_the_lidar_saw_it(bend, worked):
    _, found, water = bend
    terrain, flows = worked
    low = flows.isel(flow=0)
    here = (low["wet"] == Wet.YES).to_numpy()
    there = covered(terrain, water.outline)
    assert (here & there).sum() / (here | there).sum() > 0.9
    stations = np.arange(100.0, found.line.length - 100, 50)
    points = [found.line.interpolate(at) for at in stations]
    with rasterio.open(found.dem) as source:
        seen = np.array([value[0] for value in source.sample([(p.x, p.y) for p in points])])
    level = np.array([float(low["level"].sel(x=p.x, y=p.y, method="nearest")) for p in points])
    assert np.nanmax(np.abs(level - seen)) < 0.4
    assert np.isfinite(level).all()


def test_water_stays_in_its_valley_and_the_bar_drowns_last(bend, worked):
    _, found, _ = bend
    terrain, flows = worked
    wet = (flows["wet"] == Wet.YES).to_numpy()
    assert not wet[:, ~covered(terrain, found.line.buffer(300))].any()
    on_bar = wet[:, covered(terrain, found.bar)].mean(axis=1)
    assert on_bar[0] < 0.25
    assert (np.diff(on_bar) >= 0).all()


def test_both_edges_run_the_length_of_the_bend(bend, worked):
    _, found, _ = bend
    terrain, flows = worked
    for index in range(3):
        one = flows.isel(flow=index)
        left, right = edge_lines(one, terrain)
        for edges in (left, right):
            assert 0.8 < sum(edge.length for edge in edges) / found.line.length < 1.8
        assert wet_polygons(one, terrain)[0].contains(found.line.interpolate(0.5, normalized=True))


def test_maps_are_built_at_three_flows(bend, tmp_path):
    home, _, _ = bend
    maps = reachmap.open_reach(home / "reach").map(cell=4.0, quick=True)
    built = maps.write(tmp_path / "written")
    assert built.page.exists()
    assert len(list((tmp_path / "written" / "gis").glob("depth_[0-9]*.tif"))) == 3
    assert len(built.report["flows"]) == 3
