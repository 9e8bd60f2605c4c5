"""The sample river: what was drawn against what is true, by the quick preview for both."""

import time
from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest
import xarray as xr
from shapely import box
from shapely.affinity import translate

from reachmap.water import WaterSettings, follow_runs, read_water
from reachmap.water.field import field_of
from scripts import measure_water
from scripts.measure_rebuild import Count, Mapped, compared
from tests import truth

FLOWS_CFS = (600.0, 1800.0, 4200.0)
RULES = WaterSettings()


@pytest.fixture(scope="module")
def cases():
    drawn = measure_water.drawn_case("profile", FLOWS_CFS, RULES)
    return drawn, measure_water.solved(truth.true_ground(2), "profile", FLOWS_CFS, RULES)


@pytest.mark.slow
def test_every_bend_the_river_was_made_with_is_found_and_no_other(cases):
    drawn, _ = cases
    found, made = measure_water.drawn_bends(drawn), measure_water.true_bends()
    assert [side for _, side in found] == [side for _, side in made]
    for (place, _), (true_place, _) in zip(found, made, strict=True):
        assert place.distance(true_place) < 60.0


@pytest.mark.slow
def test_most_lips_are_found_and_few_are_false(cases):
    drawn, true = cases
    wanted = measure_water.true_lips(true)
    for reading in drawn.readings[:2]:
        lines = reading.layers["tailouts"].geometry
        lips = [measure_water.Point(line.coords[-1]) for line in lines]
        right, met, found = measure_water.hits(lips, wanted, 40.0)
        assert met >= len(wanted) - 1
        assert found - right <= 1


@pytest.mark.slow
@pytest.mark.parametrize("k", range(3))
def test_inside_water_lies_where_it_truly_is(cases, k):
    drawn, true = (
        measure_water.area_of(case.readings[k].layers["water"], "inside_bend") for case in cases
    )
    common = drawn.intersection(true).area
    assert common / drawn.area > 0.6
    assert common / true.area > 0.6


@pytest.mark.slow
def test_the_side_channel_wakes_only_as_the_flow_rises(cases):
    _, true = cases
    lengths = []
    for reading in true.readings:
        channels = reading.layers["channels"]
        lengths.append(float(channels[channels["kind"] == "side"]["length_m"].max()))
    assert not lengths[0] > 150
    assert lengths[2] > 250


@pytest.mark.slow
def test_every_layer_keeps_its_promise_at_every_flow(cases):
    for reading in cases[0].readings:
        for name, layer in reading.layers.items():
            assert layer.crs is not None
            assert layer.geometry.is_valid.all(), name
            assert not layer.geometry.is_empty.any(), name
        water = reading.layers["water"]
        assert water["score"].between(0, 100).all()
        assert water["code"].is_unique
        product = water[[c for c in water.columns if c.startswith("factor_")]].prod(axis=1)
        assert (water["score"] - 100 * product).abs().max() < 1e-6


@pytest.mark.slow
def test_no_piece_of_water_leaves_the_wetted_area(cases):
    for reading in cases[0].readings:
        wetted = reading.layers["wetted"].geometry.union_all().buffer(0.01)
        assert reading.layers["water"].geometry.within(wetted).all()


@pytest.mark.slow
def test_nothing_shorter_than_40_yards_stands_alone_but_tailouts(cases):
    water = pd.concat([reading.layers["water"] for reading in cases[0].readings])
    short = water[water["length_m"] < 36.5]
    assert len(water) > 50
    assert set(short["kind"]) <= {"tailout"}


def _mapped(case):
    frames = zip(case.readings, FLOWS_CFS, strict=True)
    pieces = pd.concat([one.layers["water"].assign(flow_label=str(flow)) for one, flow in frames])
    return Mapped(case.ground, follow_runs(pieces, case.ground, (), RULES)[0])


@pytest.mark.slow
def test_a_rougher_bed_gives_no_stretch_of_bank_another_name(cases):
    before = _mapped(cases[0])
    ground = cases[0].ground
    rougher = ground.assign(roughness=1.07 * ground["roughness"])
    after = _mapped(measure_water.solved(rougher, "profile", FLOWS_CFS, RULES))
    got = compared(before, after)
    assert got.cards == len(before.water) > 50
    assert got.moved > 0
    assert got.renamed <= 0.05 * got.cards  # pieces across a border may go with the other stretch
    names = [
        one.water[one.water["run"] != ""].groupby("stretch")["run"].unique().map(list)
        for one in (before, after)
    ]
    both = names[0].index.intersection(names[1].index)
    assert len(both) > 10
    assert names[0][both].tolist() == names[1][both].tolist()  # each stretch has its one name


def test_a_comparison_of_two_maps_sees_what_was_changed():
    rows = {
        "flow_label": ["a"] * 4,
        "run": ["one", "two", "three", "four"],
        "code": ["B1", "B2", "B3", "B4"],
        "station_m": [0.0, 100.0, 200.0, 300.0],
        "station_end_m": [100.0, 200.0, 300.0, 400.0],
    }
    shapes = [box(x, 0.0, x + 101.0, 10.0) for x in rows["station_m"]]  # each overlaps the next
    water = gpd.GeoDataFrame(rows, geometry=shapes)
    one = Mapped(xr.Dataset(), water)
    assert compared(one, one) == Count(4, 0, 0, 0, ())
    other = water.copy()
    other.loc[0, "run"] = "elsewhere"
    other.loc[1, "code"] = "Z9"
    other.loc[2, "geometry"] = translate(shapes[2], 3.0, 0.0)
    assert compared(one, replace(one, water=other)) == Count(4, 1, 1, 1, (50.0, 150.0, 250.0))
    assert compared(one, replace(one, water=water.iloc[1:])) == Count(4, 0, 1, 1, (50.0,))
    kept = water.assign(flow_label=["a", "a", "b", "b"])
    assert compared(one, replace(one, water=kept)).cards == 4


@pytest.mark.slow
def test_reading_is_quick(cases):
    """A flow takes far less than the 0.6 s that eight flows in five seconds allow (loose: 3x)."""
    drawn, _ = cases
    one = drawn.flows.isel(flow=[1])
    field_of(drawn.ground, one, island_low_m2=60.0, pool_low_m2=400.0)
    begun = time.process_time()
    read_water(drawn.ground, one, RULES)
    assert time.process_time() - begun < 1.9
