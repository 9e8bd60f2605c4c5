"""Terrain flown on several days: the later counts, moved ground is reported, waters never mixed."""

from __future__ import annotations

import re

import numpy as np
import pytest
import rasterio

from reachmap.base.errors import BuildError, Fault, MarkupError
from reachmap.base.grid import Grid
from reachmap.ground import build_ground
from reachmap.ground.corridor import grid_of
from reachmap.ground.dem import read_dem
from reachmap.ground.flights import one_ground
from reachmap.ground.layout import lay_out
from reachmap.ground.settings import GroundSettings
from reachmap.markup import read_markup
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.pipeline import drafting
from reachmap.text.files import use_words
from tests.markup.folders import CRS, SLOPE, TOML, X, Y, make, write_dem

SETTINGS = GroundSettings(cell=4.0)
RULES = EvidenceSettings()
BARE = TOML.replace("[dem]\nflow = 25\n", "[dem]\n")
OLD, NEW = "2015-07-30", "2021-09-02"


def flight(path, day="", *, rise=0.0, bump=0.0, lift=0.0, flown=False, x=(-60.0, 660.0)):
    """Write the straight river: water `rise` above the lowest, a bar at 250-330 m moved by `bump`.

    The day is TIFF's own tag, or GDAL's day of the flight where `flown`.
    """
    write_dem(path, x0=x[0], x1=x[1])
    with rasterio.open(path, "r+") as target:
        height, step = target.read(1), target.transform
        east = (np.arange(target.width) + 0.5) * step.a + step.c - X
        north = (np.arange(target.height) + 0.5) * step.e + step.f - Y
        along, across = np.meshgrid(east, north)
        bar = (along > 250) & (along < 330) & (across > 18) & (across < 48)
        height = np.where(bar, height + bump, height)
        water = 100.0 - SLOPE * along + rise
        target.write((np.maximum(height, water) + lift).astype("float32"), 1)
        if day and flown:
            target.update_tags(ns="IMAGERY", ACQUISITIONDATETIME=f"{day}T19:00:00")
        elif day:
            target.update_tags(TIFFTAG_DATETIME=day.replace("-", ":") + " 10:00:00")
    return path


def folder_with(folder, toml=BARE):
    return make(folder, toml=toml, dem=False)


def said(files, day, more=""):
    return f'\n[[flight]]\nfiles = ["{files}"]\ndate = {day}\n{more}'


def together(folder):
    """Return the drawing laid out, the flights as one ground at the cells, and the findings."""
    reach = read_markup(folder)
    grid = grid_of(reach, SETTINGS.cell, SETTINGS.margin_m)
    layout = lay_out(reach, SETTINGS)
    dem = read_dem(reach.dems, grid, reach.plan.dem)
    made, findings = one_ground(layout, reach, dem, SETTINGS, RULES)
    cells = made.height[layout.corridor.row, layout.corridor.col].astype(float)
    return reach, layout, made, cells, findings


def bar_cells(layout):
    along, across = layout.corridor.x - X, layout.corridor.y - Y
    return (along > 254) & (along < 326) & (across > 28) & (across < 44)


def words(findings):
    return " | ".join(str(one.fault) for one in findings)


@pytest.mark.parametrize(("first", "bump"), [("", 0.8), ("first = true\n", 0.0)])
def test_the_later_flight_counts_unless_the_angler_says_the_other(tmp_path, first, bump):
    toml = BARE + (said("old.tif", OLD, first) if first else "")
    folder = folder_with(tmp_path, toml)
    flight(folder / "old.tif", OLD)
    flight(folder / "young.tif", NEW, bump=0.8)
    _, layout, _, cells, findings = together(folder)
    across = layout.corridor.y - Y
    plain = 100 - SLOPE * (layout.corridor.x - X) + (across - 20) / 10
    here = bar_cells(layout)
    assert cells[here] == pytest.approx(plain[here] + bump, abs=0.02)
    told = words(findings)
    assert re.search(r"river left, 25\d m to 32\d m down the river line", told)
    assert "0.8 m " + ("higher" if bump else "lower") + " in the first" in told
    assert not any("over all the ground" in str(one.fault) for one in findings)


def test_a_file_says_its_day_and_the_record_the_flow_of_a_flights_day_alone(tmp_path):
    folder = folder_with(tmp_path)
    (folder / "gauge" / "record.csv").write_text(
        "time,flow_m3s\n"
        + "".join(
            f"{day}T{h:02}:00Z,{q}\n" for day, q in ((OLD, 31), (NEW, 44)) for h in range(24)
        ),
        encoding="utf-8",
    )
    flight(folder / "a.tif", OLD, flown=True)
    flight(folder / "b.tif", NEW)
    flight(folder / "c.tif", "")
    reach = read_markup(folder)
    assert [path.name for path in reach.dems] == ["b.tif", "a.tif", "c.tif"]
    days, flows = zip(*((one.date, one.flow) for one in reach.plan.dem.flights), strict=True)
    assert days == (NEW, OLD, "")
    assert flows[1] == pytest.approx(31)
    assert np.isnan(flows[0])
    assert np.isnan(flows[2])
    told = {one.name: use_words(one) for one in reach.files}
    assert told["a.tif"] == (f"heights of the ground, flown {OLD}, at 31 m3/s (the gauge's record)")
    assert told["b.tif"] == f"heights of the ground, file made {NEW}"
    assert told["c.tif"] == "heights of the ground"


def test_files_of_one_delivery_are_one_flight(tmp_path):
    folder = folder_with(tmp_path)
    flight(folder / "a.tif", "2021-09-02", x=(-60, 300))
    flight(folder / "b.tif", "2021-10-04", x=(300, 660))
    assert read_markup(folder).plan.dem.flights == ()


def test_a_changing_river_gives_a_flight_no_flow(tmp_path):
    folder = folder_with(tmp_path, BARE + said("a.tif", OLD))
    (folder / "gauge" / "record.csv").write_text(
        "time,flow_m3s\n" + "".join(f"{OLD}T{h:02}:00Z,{30 + h}\n" for h in range(24)),
        encoding="utf-8",
    )
    flight(folder / "a.tif")
    reach = read_markup(folder)
    assert np.isnan(reach.plan.dem.flow)
    assert any("30 m3/s and 53 m3/s" in one for one in reach.assumed)


def test_of_two_levels_of_water_the_lower_counts_with_its_own_flow(tmp_path):
    toml = BARE + said("old.tif", OLD, "flow = 25\n") + said("young.tif", NEW, "flow = 60\n")
    folder = folder_with(tmp_path, toml)
    flight(folder / "old.tif")
    flight(folder / "young.tif", rise=0.5)
    _, layout, made, cells, findings = together(folder)
    assert made.flow == 25
    low = 100 - SLOPE * (layout.corridor.x - X)
    across = np.abs(layout.corridor.y - Y)
    along = layout.corridor.x - X
    inner = (across < 16) & (along > 10) & (along < 590)
    assert cells[inner] == pytest.approx(low[inner], abs=0.02)
    # ground that the later flight had under water, and the earlier one saw dry
    strip = (layout.corridor.y - Y > 21) & (across < 24) & (along > 10) & (along < 590)
    assert strip.any()
    assert cells[strip] == pytest.approx((low + (across - 20) / 10)[strip], abs=0.05)
    told = words(findings)
    assert f"its water (at 60 m3/s) stands 0.5 m above that of {OLD} (at 25 m3/s)" in told
    assert "do not agree" not in told


def test_flows_that_contradict_the_levels_are_warned_of(tmp_path):
    toml = BARE + said("old.tif", OLD, "flow = 60\n") + said("young.tif", NEW, "flow = 25\n")
    folder = folder_with(tmp_path, toml)
    flight(folder / "old.tif")
    flight(folder / "young.tif", rise=0.5)
    findings = together(folder)[-1]
    assert "do not agree" in words(findings)
    assert any(one.weight == "warning" for one in findings)


def test_water_of_a_second_stretch_is_brought_to_one_level_and_its_strip_stays_unknown(tmp_path):
    toml = BARE + said("up.tif", OLD, "flow = 25\n") + said("down.tif", NEW, "flow = 60\n")
    folder = folder_with(tmp_path, toml)
    flight(folder / "up.tif", x=(-60, 400))
    flight(folder / "down.tif", rise=0.8, x=(400, 660))
    _, layout, made, cells, _ = together(folder)
    assert made.flow == 25
    along, across = layout.corridor.x - X, np.abs(layout.corridor.y - Y)
    inner = (across < 16) & layout.water & (along > 10) & (along < 590)
    assert cells[inner] == pytest.approx((100 - SLOPE * along)[inner], abs=0.06)
    strip = (layout.corridor.y - Y > 24) & (across < 28) & (along > 420) & (along < 580)
    assert strip.any()
    assert np.isnan(cells[strip]).all()
    dry = (across > 30) & (along > 420) & (along < 580) & (layout.corridor.y > Y)
    assert np.isfinite(cells[dry]).all()
    ground = build_ground(
        read_markup(folder),
        read_dem(read_markup(folder).dems, layout.corridor.grid, read_markup(folder).plan.dem),
        SETTINGS,
    )
    levels = ground.attrs["low_line_level"]
    assert float(levels[0] - levels[-1]) == pytest.approx(SLOPE * 600, abs=0.12)
    assert "stands 0.8 m above" in ground.attrs["notes"]


def test_ground_that_a_later_flight_shows_as_water_is_gone(tmp_path):
    folder = folder_with(tmp_path)
    flight(folder / "old.tif", OLD, bump=0.6)
    flight(folder / "young.tif", NEW, bump=-3.0)  # the bar has washed out to below the water
    _, layout, _, cells, findings = together(folder)
    here = bar_cells(layout)
    low = 100 - SLOPE * (layout.corridor.x - X)
    known = here & np.isfinite(cells)
    assert (cells[known] <= low[known] + 0.1).all()
    assert "lower in the first" in words(findings)


def test_flights_of_two_datums_stop_the_build_unless_accepted(tmp_path):
    folder = folder_with(tmp_path)
    flight(folder / "old.tif", OLD)
    flight(folder / "young.tif", NEW, lift=2.0)
    reach = read_markup(folder)
    grid = grid_of(reach, SETTINGS.cell, SETTINGS.margin_m)
    dem = read_dem(reach.dems, grid, reach.plan.dem)
    with pytest.raises(BuildError, match=r"2\.0 m above the second"):
        build_ground(reach, dem, SETTINGS)
    (folder / "reach.toml").write_text(BARE + '\n[evidence]\naccept = ["flights"]\n', "utf-8")
    assert "Taken as right" in build_ground(read_markup(folder), dem, SETTINGS).attrs["notes"]


def test_no_water_of_another_flight_is_taken_for_the_bed_that_one_knows(tmp_path):
    more = "below_water = true\n"
    folder = folder_with(tmp_path, BARE + said("bed.tif", NEW, more) + said("old.tif", OLD))
    flight(folder / "bed.tif", x=(-60, 400))
    with rasterio.open(folder / "bed.tif", "r+") as target:
        height, step = target.read(1), target.transform
        across = np.abs((np.arange(target.height) + 0.5) * step.e + step.f - Y)
        target.write(np.where(across[:, None] < 18, height - 1.2, height), 1)
    flight(folder / "old.tif")
    reach, layout, _, cells, _ = together(folder)
    assert reach.plan.dem.below_water
    along, middle = layout.corridor.x - X, np.abs(layout.corridor.y - Y) < 14
    upper, lower = middle & (along > 10) & (along < 390), middle & (along > 410) & (along < 590)
    assert cells[upper] == pytest.approx((98.8 - SLOPE * along)[upper], abs=0.02)
    assert np.isnan(cells[lower]).all()


@pytest.mark.parametrize(
    ("toml", "told"),
    [
        (said("none*.tif", OLD), "no tile of the terrain model is called"),
        (said("a.tif", OLD) + said("*.tif", NEW), "a.tif is in another"),
        (
            said("a.tif", OLD, "first = true\n") + said("b.tif", NEW, "first = true\n"),
            "to be first",
        ),
        (said("a.tif", '"last summer"'), "is no day"),
        ("\n[[flight]]\ndate = 2015-07-30\n", "files is missing"),
    ],
)
def test_a_flight_at_fault_is_said(tmp_path, toml, told):
    folder = folder_with(tmp_path, BARE + toml)
    flight(folder / "a.tif")
    flight(folder / "b.tif")
    with pytest.raises(MarkupError, match=told):
        read_markup(folder)


def test_a_draft_shows_the_water_of_the_flight_that_counts_first(tmp_path, monkeypatch):
    toml = BARE + said("old.tif", OLD, "flow = 25\n") + said("young.tif", NEW, "flow = 60\n")
    folder = folder_with(tmp_path, toml)
    flight(folder / "old.tif")
    flight(folder / "young.tif", rise=0.5)
    asked = {}

    def look(place, terrain, *_):
        grid = Grid.around((X + 100, Y - 10, X + 200, Y + 10), 4.0, CRS)
        asked.update(flow=place.flow, height=terrain(grid), grid=grid)
        raise BuildError([Fault("draft", "seen enough", "")])

    monkeypatch.setattr(drafting, "draft_river", look)
    with pytest.raises(BuildError, match="seen enough"):
        drafting.draft_folder(folder)
    assert asked["flow"] == 60
    level = 100.5 - SLOPE * (asked["grid"].x - X)
    assert asked["height"] == pytest.approx(np.broadcast_to(level, asked["height"].shape), abs=0.02)
