"""The sample river: that it reads, says that it is invented, and agrees with its own truth."""

from __future__ import annotations

import itertools
import tomllib
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from fluids.open_flow import n_natural
from scipy.ndimage import binary_dilation, binary_erosion

import reachmap
from reachmap.base.crs import outside
from reachmap.base.units import to_si
from reachmap.base.words import Cover, Wet
from reachmap.flow import FlowSettings
from scripts.sample import bed, plan
from scripts.sample.dem import flown_ground
from scripts.sample.folder import make_sample
from scripts.sample.gauge import record
from scripts.sample.tell import side_flow
from scripts.sample.truth import make_truth
from scripts.sample.water import run_water
from tests.reaches import braided_ground, steep_ground
from tests.truth import TRUE_ROUGHNESS, true_ground, true_line, true_raster

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "data_samples" / "madeup_river"
TRUTH = ROOT / "tests" / "truth"


@pytest.fixture(scope="module")
def layers():
    path = SAMPLE / "markup.gpkg"
    known = gpd.list_layers(path).dropna(subset="geometry_type")  # the others hold looks
    return {name: gpd.read_file(path, layer=name) for name in known["name"]}


@pytest.fixture(scope="module")
def dem():
    with rasterio.open(SAMPLE / "dem.tif") as source:
        heights = source.read(1, masked=True).filled(np.nan).astype(np.float64)
        assert source.transform.a == 1
        assert source.crs.to_string() == plan.CRS
        corner = (source.transform.c + 0.5, source.transform.f - 0.5)
    truth = true_raster()
    assert corner == (truth.x[0], truth.y[0])
    assert heights.shape == truth.bed.shape
    return heights


@pytest.fixture(scope="module")
def wet_that_day(dem):
    """Where the DEM shows water: at or above the true bed by more than the flight's noise."""
    ground = true_ground(1)
    deep = dem - true_raster().bed > 0.25
    return deep, ground["station"].to_numpy(), ground["offset"].to_numpy()


def test_the_sample_reads_without_a_fault():
    markup = reachmap.open_reach(SAMPLE).drawing
    assert markup.gauge is not None
    assert np.isfinite(markup.gauge.zero_m)
    assert len(markup.plan.flows) == len(plan.MAP_FLOWS_CFS)
    assert markup.plan.flows[0] == pytest.approx(to_si(600.0, "cfs"))
    assert len(markup.dems) == 1


def test_every_part_says_that_it_is_invented(layers):
    told = tomllib.loads((SAMPLE / "reach.toml").read_text(encoding="utf-8"))
    assert "invented" in told["name"]
    assert "invented" in told["gauge"]["name"]
    assert "Nothing here is real" in (SAMPLE / "README.md").read_text(encoding="utf-8")
    for name in ("gauge/rating.csv", "gauge/flow.csv", "clarity.csv"):
        assert "invented" in (SAMPLE / name).read_text(encoding="utf-8")
    assert layers["river"]["name"].str.contains("invented").all()
    for name in ("hazards", "access", "banks"):
        assert layers[name]["note"].str.contains("invented").all()


def test_it_lies_in_mid_ocean(layers):
    for name, layer in layers.items():
        west, south, east, north = outside(layer).total_bounds
        assert -142 < west < east < -140.5, name
        assert 45.8 < south < north < 46.6, name


def test_the_drawing_has_what_an_angler_would_have_drawn(layers):
    assert len(layers["soundings"]) == 25
    assert sorted(layers["river"]["part"]) == ["main", "side"]
    assert set(layers["banks"]["side"]) == {"left", "right", "island"}
    assert set(layers["banks"]["cover"]) >= {"gravel", "grass", "brush", "trees", "rock", "cutbank"}
    assert sorted(set(layers["edges"]["flow"])) == list(plan.EDGE_FLOWS_CFS)
    assert set(layers["hazards"]["kind"]) >= {"strainer", "ledge", "undercut"}
    assert set(layers["access"]["kind"]) >= {"parking", "path", "landing"}
    assert 5 <= len(layers["runs"]) <= 7
    assert layers["runs"]["name"].is_unique
    assert len(layers["rocks"]) >= 10
    assert len(layers["trees"]) >= 5


def test_the_river_line_is_drawn_roughly_but_downstream(layers):
    main = layers["river"].set_index("part").loc["main", "geometry"]
    x, y = np.asarray(main.coords).T
    station, offset = true_line().locate(x, y)
    gaps = np.diff(station)
    assert (gaps > 0).all()
    assert gaps[:-1].min() > 10
    assert gaps.max() < 55
    assert np.abs(offset).min() > 1.5
    assert np.abs(offset).max() < 5.5


def test_it_has_six_bends_of_unlike_tightness_to_both_sides():
    line = true_line()
    bends = [bend for bend in plan.BENDS if bend.turn_deg]
    turned = np.degrees(
        np.interp(np.cumsum([b.length for b in plan.BENDS]), line.station, line.direction)
    )
    sides = np.sign([bend.turn_deg for bend in bends])
    assert len(bends) == 6
    assert (sides > 0).sum() == 3
    assert np.diff(turned)[:6] == pytest.approx([bend.turn_deg for bend in bends], abs=3)
    starts = np.cumsum([b.length for b in plan.BENDS])
    radii = [
        1 / np.abs(line.curvature[(line.station > a) & (line.station < b)]).max()
        for a, b in itertools.pairwise(starts[:7])
    ]
    width = bed.main_channel(line).width.mean()
    ratios = np.sort(np.array(radii) / width)
    assert 1.5 < ratios[0] < 2.5
    assert 4 < ratios[-1] < 8


def test_pools_and_lips_come_at_the_usual_spacing():
    line = true_line()
    ground = true_ground(2)
    near = np.abs(ground["offset"].to_numpy()) < 25
    place = np.rint(ground["station"].to_numpy()[near] / 4).astype(int)
    lowest = np.full(place.max() + 1, np.inf)
    np.minimum.at(lowest, place, ground["bed"].to_numpy()[near])
    lowest = lowest[25:630]
    # residual depth (Lisle 1987): how far the bed lies below the highest bed downstream of it
    residual = np.maximum.accumulate(lowest[::-1])[::-1] - lowest
    pools = np.split(residual, np.flatnonzero(residual < 0.1))
    deep = [pool.max() for pool in pools if pool.size and pool.max() > 0.4]
    assert 5 <= len(deep) <= 8
    assert max(deep) < 2.0
    spacing = np.diff([crest.station for crest in plan.crests()][1:-1])
    widths = spacing / bed.main_channel(line).width.mean()
    assert widths.min() > 4.5
    assert widths.max() < 7.5


def test_the_dem_is_the_true_ground_where_it_was_dry(dem, wet_that_day):
    deep, _, _ = wet_that_day
    away = ~binary_dilation(deep, iterations=3) & np.isfinite(dem)
    off = (dem - true_raster().bed)[away]
    assert off.size > 300_000
    assert abs(off.mean()) < 0.01
    assert 0.02 < off.std() < 0.09


def test_the_dem_sees_water_flat_across_and_no_bed(dem, wet_that_day):
    deep, station, offset = wet_that_day
    core = binary_erosion(deep, iterations=2) & (np.abs(np.nan_to_num(offset, nan=99)) < 40)
    metre = np.rint(station[core]).astype(int)
    order = np.argsort(metre, kind="stable")
    rows = np.split(dem[core][order], np.searchsorted(metre[order], np.arange(1, 2630)))[3:-3]
    assert min(row.size for row in rows) > 8
    assert max(np.ptp(row) for row in rows) < 0.03
    level = np.array([np.median(row) for row in rows])
    assert (np.diff(level) < 0.01).all()
    assert level[0] - level[-1] == pytest.approx(plan.SLOPE * 2620, rel=0.15)


def test_soundings_are_the_true_depth_within_a_hand(layers):
    truth = true_raster()
    for row in layers["soundings"].itertuples():
        x, y = row.geometry.x, row.geometry.y
        here = truth.bed[round(truth.y[0] - y), round(x - truth.x[0])]
        station, _ = true_line().locate(np.array([x]), np.array([y]))
        level = here + to_si(row.depth, "ft")
        # the level found so stands where the river's water stands at low to middle flow
        assert 0.1 < level - (plan.HEAD_HEIGHT - plan.SLOPE * station[0]) < 1.2


def test_the_record_holds_a_storm_and_its_recession():
    flow = record()
    top = int(np.nanargmax(flow))
    assert flow.size == 21 * 24
    assert np.isnan(flow).sum() == 5
    assert flow[top] > 5000
    assert np.nanmin(flow) > 500
    assert 12 < top - int(np.flatnonzero(flow > 1000)[0]) < 48
    after = flow[top + 6 : top + 150 : 12]
    assert (np.diff(after) < 0).all()


@pytest.mark.parametrize("cell", [1, 2, 4])
def test_the_truth_nests_in_every_cell_size(cell):
    ground = true_ground(cell)
    assert float(ground["x"][0]) % cell == pytest.approx(cell / 2)
    assert ground.attrs["cell"] == cell
    fine = true_raster()
    line = true_line()
    top = int(fine.y[0] - line.y[2000]) // 4 * 4
    left = int(line.x[2000] - fine.x[0]) // 4 * 4
    block = fine.bed[top : top + 40, left : left + 40]
    row, col = top // cell, left // cell
    coarse = ground["bed"].to_numpy()[row : row + 40 // cell, col : col + 40 // cell]
    assert coarse.mean() == pytest.approx(block.mean(), abs=1e-9)
    assert set(TRUE_ROUGHNESS) == set(Cover)


@pytest.mark.parametrize(("make", "cells"), [(steep_ground, (1, 2)), (braided_ground, (2, 4))])
def test_the_other_made_rivers_are_the_same_at_any_cell_size(make, cells):
    fine, coarse = (make(float(cell)) for cell in cells)
    there = fine["bed"].interp(x=coarse["x"], y=coarse["y"])
    apart = np.abs(there - coarse["bed"]).to_numpy()
    assert np.nanmedian(apart) < 0.03
    assert make(float(cells[1])).identical(coarse)


@pytest.mark.table
@pytest.mark.parametrize(
    ("cover", "group", "kind"),
    [
        (Cover.GRAVEL, "Minor streams", "rifts or deep pools, more stones"),
        (Cover.SAND, "Minor streams", "straight, full stage, no rifts or deep pools"),
        (Cover.GRASS, "Flood plains", "high grass"),
        (Cover.BRUSH, "Flood plains", "medium to dense brush, in winter"),
        (Cover.TREES, "Flood plains", "stage below branches"),
        (Cover.ROCK, "Minor streams", "cobbles and large boulders"),
    ],
)
def test_true_roughness_lies_in_the_printed_range(cover, group, kind):
    # Chow (1959), table 5-6, as shipped in fluids.open_flow.n_natural
    found = [ranges for words, ranges in n_natural[group].items() if kind in words]
    low, _, high = found[0]
    assert low <= TRUE_ROUGHNESS[cover] <= high


def test_the_sample_is_small():
    limits = {"dem.tif": 4e6, "markup.gpkg": 1e6}
    for name, most in limits.items():
        assert (SAMPLE / name).stat().st_size < most
    assert (TRUTH / "true_river.tif").stat().st_size < 3e6


@pytest.mark.slow
@pytest.mark.compiled
def test_the_side_channel_wakes_and_the_bars_drown_as_the_river_rises():
    line, ground = true_line(), true_ground(4)
    asked = (600, 1300, 2400, 5400)
    water = run_water(true_raster(), line, ground, asked)
    through = [side_flow(water, flow) for flow in asked]
    assert through[0] == pytest.approx(0, abs=0.02)
    assert through[1] == pytest.approx(0, abs=0.05)
    assert through[2] > 0.15
    assert through[3] > 1.5
    wet = water.flows["wet"].to_numpy() == Wet.YES
    width = wet.sum(axis=(1, 2)) * 16 / line.length
    assert (np.diff(width) > 3).all()
    assert 38 < width[0] < 52
    assert width[-1] < 75
    station, offset = (ground[name].to_numpy() for name in ("station", "offset"))
    low_bar = (np.abs(station - 2150) < 30) & (np.abs(offset - 3) < 5)
    assert wet[0][low_bar].mean() < 0.7
    assert wet[2][low_bar].all()
    speed = np.hypot(water.flows["east_speed"], water.flows["north_speed"]).to_numpy()
    froude = speed / np.sqrt(9.80665 * water.flows["depth"].to_numpy())
    assert (np.nanmedian(froude, axis=(1, 2)) < 0.45).all()
    assert (np.nanpercentile(froude, 95, axis=(1, 2)) < 0.8).all()


@pytest.mark.slow
def test_the_kept_truth_is_what_the_formulas_make():
    made, kept = make_truth(true_line()), true_raster()
    assert np.array_equal(made.cover, kept.cover)
    # another machine's arithmetic may round a centimetre the other way
    apart = np.abs(made.bed - kept.bed)[np.isfinite(kept.bed)]
    assert apart.max() < 0.011
    assert (apart > 0.001).mean() < 1e-4


@pytest.mark.slow
@pytest.mark.compiled
def test_the_kept_dem_is_what_the_flow_engine_gives(dem):
    water = run_water(true_raster(), true_line(), true_ground(2), (plan.DEM_FLOW_CFS,))
    made = flown_ground(water)
    apart = np.abs(made - dem)[np.isfinite(dem)]
    # a later engine may move the level by a little, and with it the cells at the water's edge
    assert np.percentile(apart, 99) < 0.02
    assert (apart > 0.05).mean() < 1e-3


@pytest.mark.slow
@pytest.mark.compiled
def test_the_script_makes_the_same_bytes_each_time(tmp_path):
    quick = FlowSettings()
    made = []
    for name in ("one", "two"):
        make_sample(tmp_path / name, tmp_path / f"{name}_truth", settings=quick)
        files = sorted(path for path in (tmp_path / name).rglob("*") if path.is_file())
        made.append({path.name: path.read_bytes() for path in files})
    assert set(made[0]) == {"README.md", "clarity.csv", "dem.tif", "flow.csv", "markup.gpkg",
                            "rating.csv", "reach.toml"}  # fmt: skip
    for name, data in made[0].items():
        assert data == made[1][name], name
    for name in ("README.md", "reach.toml"):
        assert made[0][name] == (SAMPLE / name).read_bytes()
