"""`build_ground`: exact cases, laws, and what is set aside."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, Polygon, affinity

from reachmap.base.errors import BuildError
from reachmap.base.words import COVER_CODES, Cover, Side
from reachmap.ground import Dem, GroundSettings, build_ground, grid_of
from reachmap.ground.cover import cells_of
from reachmap.ground.layout import lay_out
from reachmap.markup.model import Bank, Level, Standing
from tests.ground.flown_river import DRAWN, FLOWN, GROUND, RIVER, SETTINGS, error, grid, rms
from tests.ground.said import said_of
from tests.ground.scenes import (
    drawing,
    flown,
    pool_riffle,
    straight_trapezoid,
    with_soundings,
)


def test_cells_are_snapped_and_y_falls():
    for cell in (1.0, 2.0, 4.0):
        small = build_ground(DRAWN, None, GroundSettings(cell=cell, margin_m=10))
        x, y = small["x"].to_numpy(), small["y"].to_numpy()
        assert np.allclose((x - cell / 2) % cell, 0)
        assert np.allclose((y - cell / 2) % cell, 0)
        assert (np.diff(y) == -cell).all()
        assert (np.diff(x) == cell).all()


def test_dry_ground_is_the_dems():
    x, y = grid(GROUND)
    true = RIVER.at(x, y)
    dry = true > RIVER.level_at(RIVER.section_level(15.0), x, y) + 0.15
    known = dry & np.isfinite(GROUND["bed"].to_numpy())
    assert known.sum() > 5000
    assert np.abs(GROUND["bed"].to_numpy() - true)[known].max() < 1e-3


def test_the_bed_beneath_the_dems_water_is_near_the_truth():
    """Truth of another section form (exponent 2.6, lean from its own rule, bumps of 6 cm)."""
    off = error(GROUND, RIVER)
    assert rms(off) < 0.2
    assert abs(off.mean()) < 0.1


def test_a_straight_trapezoid_gets_its_water_and_width_exactly():
    river = straight_trapezoid()
    drawn = drawing(river, 20.0, jitter=0.0)
    ground = build_ground(drawn, flown(river, drawn, 20.0), SETTINGS)
    assert ground.attrs["slope"] == pytest.approx(0.002, rel=0.02)
    left, right = river.edges(river.section_level(20.0))
    assert ground["line_width"].to_numpy()[30:-30] == pytest.approx(
        float((left - right)[100]), abs=0.2
    )
    x, y = grid(ground)
    inner = np.isfinite(ground["station"].to_numpy())
    station, offset = river.line.to_station_offset(x[inner], y[inner])
    assert ground["station"].to_numpy()[inner] == pytest.approx(station, abs=0.1)
    assert ground["offset"].to_numpy()[inner] == pytest.approx(offset, abs=0.1)


def test_the_form_closes_the_discharge_on_the_raster():
    """sum h^(5/3)/n sqrt(S) dy = Q across the raster's own columns of a straight reach."""
    river = straight_trapezoid()
    drawn = drawing(river, 20.0, jitter=0.0)
    settings = GroundSettings(cell=1.0, least_depth_m=0.0)
    ground = build_ground(drawn, flown(river, drawn, 20.0, cell=1.0), settings)
    level = 98 - 0.002 * ground["station"].to_numpy() + 0.0
    level += np.nanmean(river.section_level(20.0) - (98 - 0.002 * river.line.station))
    depth = np.where(ground["confidence"] < 0.85, level - ground["bed"].to_numpy(), 0)
    carried = np.nansum(np.maximum(depth, 0) ** (5 / 3), axis=0) / 0.035 * np.sqrt(0.002)
    middle = carried[80:-80]
    assert middle.mean() == pytest.approx(20.0, rel=0.01)
    assert middle == pytest.approx(np.full(middle.shape, 20.0), rel=0.03)


def test_nan_in_the_dem_stays_unknown_where_nothing_else_speaks():
    height = FLOWN.height.copy()
    x, y = grid(GROUND)
    left, _ = RIVER.edges(RIVER.section_level(20.0))
    px, py = RIVER.line.from_station_offset(
        np.array([400.0]), np.array([np.interp(400, RIVER.line.station, left) + 12])
    )
    hole = np.hypot(x - px, y - py) < 6
    height[hole] = np.nan
    ground = build_ground(DRAWN, replace(FLOWN, height=height), SETTINGS)
    assert np.isnan(ground["bed"].to_numpy()[hole]).all()
    assert np.isnan(ground["surface"].to_numpy()[hole]).all()
    assert (ground["confidence"].to_numpy()[hole] == 0).all()


def test_outside_the_corridor_nothing_is_invented():
    ground = build_ground(DRAWN, None, SETTINGS)
    far = ~np.isfinite(ground["station"].to_numpy())
    assert far.any()
    assert np.isnan(ground["bed"].to_numpy()[far]).all()
    assert (ground["cover"].to_numpy()[far] == 0).all()
    no_rise = ground["cover"].to_numpy() > 0
    dry = no_rise & np.isnan(ground["bed"].to_numpy())
    assert dry.any()  # banks without a rise, no DEM: their ground is unknown


@pytest.mark.slow
def test_a_mirrored_drawing_gives_the_mirrored_ground():
    river = pool_riffle(length=700, mirror=True)
    there = drawing(river, 20.0, jitter=0.0)
    back = drawing(pool_riffle(length=700), 20.0, jitter=0.0)
    one = build_ground(there, flown(river, there, 15.0), SETTINGS)
    other = build_ground(back, flown(pool_riffle(length=700), back, 15.0), SETTINGS)
    flipped = other["bed"].to_numpy()[::-1]
    assert flipped.shape == one["bed"].shape
    same = np.isfinite(flipped) & np.isfinite(one["bed"].to_numpy())
    assert same.mean() > 0.2
    assert np.abs(flipped - one["bed"].to_numpy())[same].mean() < 0.01
    offset = one["offset"].to_numpy() + other["offset"].to_numpy()[::-1]
    assert np.nanmedian(np.abs(offset)) < 0.05


def test_true_soundings_never_make_the_bed_worse_where_they_are():
    drawn = with_soundings(DRAWN, RIVER, 20.0, 15, error=0.0)
    ground = build_ground(drawn, FLOWN, SETTINGS)
    for one in drawn.soundings:
        x, y = one.place.x, one.place.y
        true = RIVER.at(np.array([x]), np.array([y]))[0]
        before = abs(float(GROUND["bed"].sel(x=x, y=y, method="nearest")) - true)
        after = abs(float(ground["bed"].sel(x=x, y=y, method="nearest")) - true)
        assert after <= before + 0.03  # a cell is 2 m wide, and its level is known to a centimetre


@pytest.mark.slow
def test_more_soundings_bring_the_bed_nearer():
    """On a bed with bumps no form foresees; where the form guesses well there is little to gain."""
    river = pool_riffle(length=900, bumps=0.25)
    drawn = drawing(river, 20.0)
    dem = flown(river, drawn, 15.0)
    off = [
        rms(error(build_ground(with_soundings(drawn, river, 20.0, n), dem, SETTINGS), river))
        for n in (0, 25, 80)
    ]
    assert off[2] < 0.95 * off[1] < 0.95 * off[0]


def test_without_dem_and_slope_there_are_no_heights():
    with pytest.raises(BuildError, match="neither a DEM nor a slope"):
        build_ground(drawing(RIVER, 20.0, say_slope=False), None, SETTINGS)


def test_without_a_dem_heights_are_local_and_fall_with_the_slope():
    drawn = drawing(RIVER, 20.0, edge_flows=(140.0,), rise_m=2.5)
    ground = build_ground(drawn, None, SETTINGS)
    assert ground.attrs["vertical"] == "local"
    assert ground.attrs["slope"] == pytest.approx(0.002, rel=0.01)
    x, y = grid(ground)
    true = RIVER.at(x, y)
    level = RIVER.level_at(RIVER.section_level(140.0), x, y)
    known = np.isfinite(ground["bed"].to_numpy()) & (true < level)
    off = (ground["bed"].to_numpy() - true)[known]
    assert np.std(off) < 0.4  # a slope and two edges are no survey
    assert known.sum() > 0.97 * (true < level).sum()


def test_a_bank_rises_evenly_to_its_outer_edge():
    river = straight_trapezoid()
    drawn = drawing(river, 20.0, jitter=0.0, rise_m=3.0, bank_width=30.0)
    ground = build_ground(drawn, None, SETTINGS)
    left, _ = river.edges(river.section_level(20.0))
    near = ground.sel(x=float(ground["x"].mean()), method="nearest")
    out = near["offset"].to_numpy() - float(left[150])
    water = 100 - 0.002 * near["station"].to_numpy()
    on_bank = (out > 1) & (out < 29)
    rise = (near["bed"].to_numpy() - water)[on_bank]
    assert rise == pytest.approx(out[on_bank] / 30 * 3.0, abs=0.1)


def test_trees_and_cover_stand_on_the_ground():
    x, y = RIVER.line.from_station_offset(np.array([300.0]), np.array([40.0]))
    tree = Standing(Point(x[0], y[0]), 20.0, 5.0)
    brush = tuple(replace(bank, cover=Cover.BRUSH, cover_height_m=2.0) for bank in DRAWN.banks)
    ground = build_ground(replace(DRAWN, banks=brush, trees=(tree,)), FLOWN, SETTINGS)
    here = ground.sel(x=x[0], y=y[0], method="nearest")
    assert float(here["surface"] - here["bed"]) == pytest.approx(20.0, abs=1.5)
    assert int(here["cover"]) == COVER_CODES[Cover.TREES]
    on_brush = ground["cover"].to_numpy() == COVER_CODES[Cover.BRUSH]
    tall = (ground["surface"] - ground["bed"]).to_numpy()[on_brush]
    assert np.nanmax(np.abs(tall - 2.0)) < 1e-4
    beyond = (ground["cover"].to_numpy() == 0) & np.isfinite(ground["bed"].to_numpy())
    assert beyond.any()
    assert np.isnan(ground["surface"].to_numpy()[beyond]).all()  # nobody said what grows there


def test_confidence_follows_the_evidence():
    drawn = with_soundings(DRAWN, RIVER, 20.0, 12)
    ground = build_ground(drawn, FLOWN, SETTINGS)
    sure = ground["confidence"].to_numpy()
    x, y = grid(ground)
    level = RIVER.level_at(RIVER.section_level(15.0), x, y)
    dry = (RIVER.at(x, y) > level + 0.3) & np.isfinite(ground["bed"].to_numpy())
    assert sure[dry].min() >= 0.9
    one = max(drawn.soundings, key=lambda sounding: sounding.depth_m).place
    there = float(ground["confidence"].sel(x=one.x, y=one.y, method="nearest"))
    wet = RIVER.at(x, y) < level - 0.2
    assert np.median(sure[wet]) < there < 0.9
    drawn_only = build_ground(drawing(RIVER, 20.0, edge_flows=(140.0,)), None, SETTINGS)
    assert np.nanmax(drawn_only["confidence"]) <= 0.5


def test_an_island_drawn_in_the_banks_stays_ground():
    river = straight_trapezoid(bottom=60.0)
    drawn = drawing(river, 20.0, jitter=0.0, rise_m=2.0)
    x, y = river.line.from_station_offset(
        np.array([200.0, 300, 400, 300]), np.array([5.0, 14, 5, -2])
    )
    island = Bank(
        "island", Polygon(np.column_stack([x, y])), Side.ISLAND, Cover.BRUSH, 1.5, 3.0, ""
    )
    ground = build_ground(replace(drawn, banks=(*drawn.banks, island)), None, SETTINGS)
    px, py = river.line.from_station_offset(np.array([300.0]), np.array([6.0]))
    crown = float(ground["bed"].sel(x=px[0], y=py[0], method="nearest"))
    water = 100 - 0.002 * 300
    assert crown == pytest.approx(water + 1.5, abs=0.1)
    for offset in (-20.0, 22.0):
        sx, sy = river.line.from_station_offset(np.array([300.0]), np.array([offset]))
        assert float(ground["bed"].sel(x=sx[0], y=sy[0], method="nearest")) < water - 0.1


def test_a_dem_that_saw_the_bed_is_followed_under_water():
    grid = grid_of(DRAWN, SETTINGS.cell, SETTINGS.margin_m)
    bed = RIVER.at(*np.meshgrid(grid.x, grid.y)).astype(np.float32)
    ground = build_ground(DRAWN, Dem(bed, np.nan, "made"), SETTINGS)
    assert "was taken to know the bed under water too" in said_of(ground)
    off = error(ground, RIVER)
    assert np.abs(off).max() < 1e-3


def test_what_was_assumed_is_said_by_name():
    trees = tuple(replace(bank, cover=Cover.TREES) for bank in DRAWN.banks)
    notes = said_of(build_ground(replace(DRAWN, banks=trees), None, SETTINGS))
    assert "No ground is known under left bank and right bank" in notes
    assert "Cover of left bank and right bank was given a usual height" in notes


def test_levels_noted_at_a_flow_give_soundings_their_height():
    """A sounding at 60 m3/s is as good as one at low water once the level there is noted."""
    level = RIVER.section_level(60.0)
    spots = np.linspace(100, 800, 5)
    x, y = RIVER.line.from_station_offset(spots, np.zeros(5))
    noted = tuple(
        Level(Point(a, b), float(np.interp(s, RIVER.line.station, level)), 60.0)
        for a, b, s in zip(x, y, spots, strict=True)
    )
    drawn = with_soundings(replace(DRAWN, levels=noted), RIVER, 60.0, 20, error=0.0)
    ground = build_ground(drawn, FLOWN, SETTINGS)
    assert "at 60 m\u00b3/s was noted" in said_of(ground)
    assert rms(error(ground, RIVER)) < 0.15


def test_a_slope_that_differs_from_the_dems_is_told():
    plan = replace(DRAWN.plan, slope=0.0035)
    ground = build_ground(replace(DRAWN, plan=plan), FLOWN, SETTINGS)
    first = said_of(ground).splitlines()[0]
    assert first.startswith("Evidence disagrees: The DEM's water falls 0.001697 m a metre (1.6 m")
    assert "reach.toml says 0.0035 (3.2 m)" in first
    taken = replace(DRAWN, plan=replace(plan, accepted=("dem",)))
    said = said_of(build_ground(taken, FLOWN, SETTINGS))
    assert "Taken as right, as [evidence] accept says (dem): The DEM's water falls" in said
    assert "Evidence disagrees" not in said


def test_a_dem_without_any_relief_stops_the_build():
    flat = replace(FLOWN, height=np.full(FLOWN.height.shape, 90.0, dtype=np.float32))
    with pytest.raises(BuildError, match="flown at high water"):
        build_ground(DRAWN, flat, SETTINGS)


def test_a_river_through_a_dem_gap_keeps_its_bed():
    """Lidar often has no returns on water: unknown heights between the banks are water."""
    x, y = grid(GROUND)
    level = RIVER.level_at(RIVER.section_level(15.0), x, y)
    height = np.where(RIVER.at(x, y) < level - 0.3, np.nan, FLOWN.height).astype(np.float32)
    ground = build_ground(DRAWN, replace(FLOWN, height=height), SETTINGS)
    assert np.isfinite(ground["bed"].to_numpy()[RIVER.at(x, y) < level - 0.3]).mean() > 0.99
    assert rms(error(ground, RIVER)) < 0.25


def test_a_dem_of_the_wrong_shape_is_a_callers_bug():
    with pytest.raises(ValueError, match="the grid"):
        build_ground(DRAWN, Dem(np.zeros((3, 3), dtype=np.float32), 15.0, ""), SETTINGS)


def test_the_same_input_gives_the_same_ground():
    assert GROUND.identical(build_ground(DRAWN, FLOWN, SETTINGS))


def test_moving_the_whole_reach_moves_the_ground_and_nothing_else():
    shift = 2000.0
    banks = tuple(replace(b, outline=affinity.translate(b.outline, shift)) for b in DRAWN.banks)
    rivers = tuple(replace(r, line=affinity.translate(r.line, shift)) for r in DRAWN.rivers)
    moved = build_ground(replace(DRAWN, banks=banks, rivers=rivers), FLOWN, SETTINGS)
    assert np.nanmax(np.abs(moved["bed"].to_numpy() - GROUND["bed"].to_numpy())) < 1e-4


def test_a_rock_of_unknown_size_stands_on_its_own_cell_alone():
    river = pool_riffle(length=200)
    markup = drawing(river, 20.0)
    layout = lay_out(markup, GroundSettings())
    x, y = river.line.from_station_offset(np.array([100.0]), np.array([5.0]))
    place = Point(x[0], y[0])
    assert len(cells_of(layout.corridor, Standing(place, 1.0, float("nan")))) == 1
    assert len(cells_of(layout.corridor, Standing(place, 1.0, 4.0))) > 4
