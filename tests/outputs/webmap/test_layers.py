from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from shapely import LineString, MultiPolygon, Point, Polygon

from reachmap.angler.places import Places
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.schema import layer_frame
from reachmap.base.schema_angler import CASTS
from reachmap.base.words import UnitSystem, Wet
from reachmap.outputs.palette import BY_KIND
from reachmap.outputs.webmap.feature import EVERY_FLOW
from reachmap.outputs.webmap.layers import features
from reachmap.outputs.webmap.legend import PRESETS, SWITCHES
from reachmap.outputs.webmap.stands import apart, behind_of, directions_down, fan
from reachmap.outputs.webmap.unknown import off_map, outlines, unknown_water
from reachmap.text.map_cards import (
    hazard_card,
    station_card,
    sure_words,
    water_card,
)


@pytest.fixture(scope="module")
def drawn(product):
    return features(product)


def test_every_kind_of_the_palette_can_be_switched_or_is_always_drawn():
    switched = [kind for switch in SWITCHES for kind in switch.kinds]
    assert sorted(switched) == sorted(BY_KIND)
    fixed = [switch.name for switch in SWITCHES if switch.fixed]
    assert fixed == ["unknown_water"]


def test_hazards_are_on_in_every_preset_and_no_preset_shows_all():
    for name, _ in PRESETS:
        on = [switch.name for switch in SWITCHES if name in switch.presets]
        assert {"hazard", "unknown_water", "access"} <= set(on)
        assert len(on) < len(SWITCHES) * 0.8


def test_every_layer_of_the_product_is_drawn(product, drawn):
    kinds = {feature.kind for feature in drawn}
    assert kinds >= {"edge", "inside_bend", "seam", "tailout", "soft_edge", "seam_line", "lane"}
    assert kinds >= {"tailout_line", "easy", "careful", "no", "station", "swing", "own_run"}
    assert kinds >= {"found_run", "hazard", "access", "sounding", "river", "unknown_water"}
    assert 0 < sum(f.kind == "station" for f in drawn) <= len(product.layers["stations"])


def test_a_structure_is_drawn_at_the_flows_it_holds_fish_at(product, drawn):
    rows = product.layers["structure"]
    shown = [f for f in drawn if f.kind == "structure"]
    assert len(shown) == int(rows["holds"].sum()) > 0
    labels = [product.labels[f.flow] for f in shown]
    assert set(labels) == set(rows.loc[rows["holds"], "flow_label"])
    assert {f.faded for f in shown} == {True, False}
    assert all("fish lie" in f.card.lines[0] for f in shown)
    assert any(f.label.startswith("bucket H") for f in shown)


def test_water_that_suits_but_is_no_piece_says_why(product, drawn):
    rows = product.layers["left_over"]
    shown = [f for f in drawn if f.kind == "left_over"]
    assert len(shown) == len(rows) > 0
    told = {(dict(f.card.rows)["It would be"], dict(f.card.rows)["Why not"]) for f in shown}
    assert ("Soft edge", "too small") in told
    assert ("Even run, walking speed", "not known") in told
    assert BY_KIND["left_over"].veil == 0  # an outline alone: never as water to go to
    (switch,) = (one for one in SWITCHES if one.name == "left_over")
    assert not switch.presets


def test_water_nobody_knows_is_outlined_at_every_flow(product, drawn):
    wet = product.flows["wet"].to_numpy()
    cell = float(product.ground.attrs["cell"])
    for index in range(len(product.labels)):
        area = sum(
            outline.area for outline in unknown_water(product.flows, index, off_map(product.flows))
        )
        assert area == pytest.approx((wet[index] == Wet.UNKNOWN).sum() * cell**2, rel=0.2)
        assert any(f.kind == "unknown_water" and f.flow == index for f in drawn)


def test_wet_cells_without_a_depth_count_as_unknown(product):
    flows = product.flows.copy(deep=True)
    wet = flows["wet"].to_numpy()[1]
    row, column = np.argwhere(wet == Wet.YES)[500]
    flows["depth"].to_numpy()[1, row, column] = np.nan
    here = Point(float(flows["x"][column]), float(flows["y"][row]))
    assert any(outline.contains(here) for outline in unknown_water(flows, 1, off_map(flows)))


def test_ground_nobody_described_far_from_water_is_blank_and_near_it_hatched(product):
    flows = product.flows.copy(deep=True)
    wet = flows["wet"].to_numpy()
    ever = (wet == Wet.YES).any(axis=0)
    wet[:, ~ever] = Wet.UNKNOWN
    beyond = off_map(flows)
    assert beyond.any()
    assert not beyond[ever].any()
    row, column = np.argwhere(ever)[0]
    assert not beyond[row : row + 5, max(0, column - 5) : column + 5].any()
    known = product.flows["wet"].to_numpy()
    assert not off_map(product.flows)[(known != Wet.UNKNOWN).any(axis=0)].any()


def test_outlines_keep_holes(product):
    mask = np.zeros((product.flows.sizes["y"], product.flows.sizes["x"]), dtype=bool)
    mask[10:40, 10:40] = True
    mask[20:30, 20:30] = False
    (outline,) = outlines(mask, Grid.of(product.flows))
    cell = float(product.ground.attrs["cell"])
    assert len(outline.interiors) == 1
    assert outline.area == pytest.approx((900 - 100) * cell**2, rel=0.02)


def test_holes_and_parts_become_rings_of_one_feature(product):
    square = Polygon(
        [(0, 0), (90, 0), (90, 90), (0, 90)], [[(20, 20), (40, 20), (40, 40), (20, 40)]]
    )
    shape = MultiPolygon([square, Polygon([(200, 0), (230, 0), (230, 30), (200, 30)])])
    row = product.layers["wetted"].iloc[[0]].to_dict("records")[0] | {"geometry": shape}
    layers = dict(product.layers) | {"wetted": gpd.GeoDataFrame([row], crs=product.markup.crs)}
    edges = [f for f in features(replace(product, layers=layers)) if f.kind == "edge"]
    assert len(edges) == 1
    assert len(edges[0].rings) == 3
    assert square.contains(Point(edges[0].anchor))


def test_rows_of_a_flow_that_is_not_mapped_are_left_out(product):
    layers = dict(product.layers)
    layers["water"] = layers["water"].assign(flow_label="777cfs")
    found = features(replace(product, layers=layers))
    assert not any(f.kind == "inside_bend" for f in found)


def test_extra_columns_and_empty_layers_do_no_harm(product):
    layers = {name: frame.assign(extra=1) for name, frame in product.layers.items()}
    layers["stations"] = layers["stations"].iloc[:0]
    found = features(replace(product, layers=layers))
    assert not any(f.kind == "station" for f in found)


def test_low_confidence_is_faded_and_said(product, drawn):
    water = product.layers["water"]
    low = int((water["confidence"] == "low").sum())
    faded = [
        f for f in drawn if f.faded and f.kind in ("inside_bend", "seam", "tailout", "soft_edge")
    ]
    assert len(faded) == low > 0
    assert all("a guess" in dict(f.card.rows)["How sure"] for f in faded)


def test_what_the_angler_drew_is_there_at_every_flow(drawn):
    for kind in ("hazard", "access", "sounding", "river", "own_run"):
        assert {f.flow for f in drawn if f.kind == kind} == {EVERY_FLOW}


def station(**changes):
    """Return a row of the layer with a snap-T that fits; of `fits` the casts have other room."""
    row = {
        "flow": 20.0, "flow_label": "20m3s", "code": "B1-1", "water": "B1", "side": "left",
        "depth_m": 0.5, "speed_m_s": 0.4, "room_m": 12.0, "cast": "snap-T", "head": "24 ft head",
        "cast_m": 20.0, "angle_deg": 45.0, "head_max_m": 9.0, "tip": "t", "swing_s": 30.0,
        "access": "foot", "geometry": Point(500_300, 5_117_000),
        **dict.fromkeys(CASTS.values(), "no"), "fit_snap_t": "fits",
    }  # fmt: skip
    return layer_frame("stations", [row | changes], "EPSG:32607").iloc[0].to_dict()


EAST = Centreline.along(LineString([(500_000, 5_117_010), (501_000, 5_117_010)]), 10.0)


def test_the_cast_goes_across_and_down_and_the_room_lies_opposite():
    # River left of an eastward river is its north bank: the cast goes south and east, 45 degrees.
    around = fan(station(geometry=Point(500_300, 5_117_040)), EAST, None, 0.0)
    target, hang_down = around.swing[1], around.swing[-1]
    half = 20 / np.sqrt(2)
    assert target == pytest.approx([500_300 + half, 5_117_040 - half])
    assert hang_down == pytest.approx([500_320, 5_117_040])
    middle = around.room[4]
    assert middle == pytest.approx([500_300 - 12 / np.sqrt(2), 5_117_040 + 12 / np.sqrt(2)])


def test_downstream_is_told_abreast_of_each_place():
    line = Centreline.along(LineString([(0, 0), (500, 0), (500, 500)]), 10.0)
    down = directions_down(line, [Point(200, 30), Point(470, 300)])
    assert down == pytest.approx([0.0, np.pi / 2], abs=1e-6)


def test_from_river_right_it_is_the_mirror_image():
    around = fan(station(side="right", angle_deg=0.0), EAST, None, 0.0)
    assert around.swing[1] == pytest.approx([500_300, 5_117_020])


def test_from_an_island_the_cast_goes_to_its_water():
    north, south = Point(500_300, 5_117_050).buffer(5), Point(500_300, 5_116_950).buffer(5)
    for place, sign in ((north, 1), (south, -1)):
        around = fan(station(side="island", angle_deg=0.0), EAST, place, 0.0)
        assert around.swing[1][1] == pytest.approx(5_117_000 + sign * 20)


def test_room_nobody_mapped_is_never_clear_and_tight_is_tight():
    assert behind_of(station(room_m=np.nan)) == "look"
    assert behind_of(station()) == "room"
    assert behind_of(station(fit_snap_t="tight")) == "tight"
    assert behind_of(station(fit_snap_t="tight", fit_perry_poke="fits")) == "room"
    assert behind_of(station(fit_snap_t="no")) == "blocked"
    assert fan(station(cast_m=np.nan), EAST, None, 0.0) is None


def test_a_direction_that_is_told_is_taken():
    around = fan(station(target_deg=90.0), EAST, None, 0.0)
    assert around.swing[1] == pytest.approx([500_300, 5_117_020])


def test_stations_next_to_a_better_one_are_left_out():
    rows = [
        (0, station(code="B1-1", fit_snap_t="no", geometry=Point(0, 0))),
        (0, station(code="B1-2", geometry=Point(6, 0))),
        (0, station(code="B1-3", geometry=Point(30, 0))),
        (0, station(code="S1-1", water="S1", fit_snap_t="no", geometry=Point(1, 0))),
        (1, station(code="B1-1", fit_snap_t="no", geometry=Point(0, 0))),
    ]
    assert [(i, row["code"]) for i, row in apart(rows)] == [
        (0, "B1-2"), (0, "B1-3"), (0, "S1-1"), (1, "B1-1"),
    ]  # fmt: skip


def test_cards_say_unknown_and_never_the_number_nan(product):
    card = station_card(station(room_m=np.nan, head_max_m=np.nan, swing_s=np.nan), UnitSystem.US)
    rows = dict(card.rows)
    assert rows["Room behind"] == "not mapped: look before you cast"
    assert rows["Longest head"] == "unknown"
    row = product.layers["water"].iloc[0].to_dict() | {"depth_m": np.nan, "confidence": None}
    told = dict(water_card(row, UnitSystem.US, Places(0)).rows)
    assert told["Depth"] == "unknown"
    assert told["How sure"] == "unknown"
    assert "nan" not in str(card).lower().replace("unknown", "")


def test_units_of_the_folder_stand_first():
    us = dict(station_card(station(), UnitSystem.US).rows)
    metric = dict(station_card(station(), UnitSystem.METRIC).rows)
    assert us["Depth where you stand"] == "1.6 ft (0.5 m)"
    assert metric["Depth where you stand"] == "0.5 m"


def test_hazards_carry_their_meaning_and_the_note(product):
    card = hazard_card(product.markup.hazards[0])
    assert "strainer" in card.title
    assert card.lines == ("Cottonwood down since spring",)
    assert sure_words("low").startswith("low: a guess")
