"""Places to stand, walks and casts against everything drawn as a hazard."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, box

from reachmap.angler import AnglerSettings, assess, runs_with_hazards
from reachmap.angler.barred import stricter
from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.settings import LineSettings, RoomSettings
from reachmap.angler.stations import Stands
from reachmap.angler.sweeps import swept_areas
from reachmap.base.schema import layer_frame, table_frame
from reachmap.base.words import HazardKind, UnitSystem, Wet
from reachmap.markup.model import Hazard
from reachmap.text.run_table import run_note
from reachmap.text.zone import zone_note
from tests.angler.hand import access_at, band, card_lines, hand_markup, hand_water, noted
from tests.made import made_flows, made_ground

SETTINGS = AnglerSettings(line=LineSettings(full=False), room=RoomSettings(rays=3))
GROUND = made_ground(length=320, slope=0.0006)
FLOW = made_flows(GROUND, {20.0: -0.3})
X0, Y = float(GROUND["line_x"][0]), float(GROUND["line_y"][0])
SHORE = -18.5
"""About where the water ends on river right, from the line [m]."""
RIGHT = access_at(X0 + 160, Y - 45)
WATER = hand_water(
    [band(GROUND, 120, 200, -16, -6)],
    flow=20.0,
    label="20m3s",
    crs=GROUND.attrs["crs"],
    stations=[(120, 200)],
)


def drawn(kind, shape, note=""):
    return Hazard(shape, kind, note)


def along(low, high, offset=SHORE):
    """Return a line down the river between two stations."""
    return LineString([(X0 + low, Y + offset), (X0 + high, Y + offset)])


def look(*hazards, settings=SETTINGS, flow=FLOW, access=(RIGHT,)):
    """Return layers and card of the made run."""
    mark = hand_markup(GROUND, hazards=hazards, access=access)
    layers = {"water": WATER, **assess(GROUND, flow, WATER, mark, settings)}
    return layers, card_lines("run 1", "20m3s", layers, mark, settings)


def near(layers, hazard):
    return layers["stations"].distance(hazard.shape)


def above(layers, station, within):
    """Return how many places on river right lie so far above a station."""
    at = layers["stations"]["station_m"]
    return int(((at < station) & (at > station - within)).sum())


PLAIN, PLAIN_CARD = look()


def test_nobody_stands_on_an_undercut_nor_on_the_dry_ground_over_it():
    bank = drawn(HazardKind.UNDERCUT, along(150, 170, SHORE - 1.5), "hollow")
    assert (near(PLAIN, bank) <= 3.0).any()
    layers, card = look(bank)
    assert (near(layers, bank) > 3.0).all()
    assert int(layers["hazards_near"]["left_out"].sum()) >= 3
    assert "places left out: on a drawn undercut" in card[3]
    # what was left out and what is left are together what there was
    left = int(layers["hazards_near"]["left_out"].sum())
    assert len(layers["stations"]) + left == len(PLAIN["stations"])


def test_how_far_to_keep_off_is_a_setting():
    bank = drawn(HazardKind.UNDERCUT, along(150, 170, SHORE - 1.5))
    wide = replace(SETTINGS, hazards=HazardSettings(undercut_m=8.0))
    assert (near(look(bank, settings=wide)[0], bank) > 8.0).all()
    assert (near(look(bank)[0], bank) < 8.0).any()


def test_nobody_stands_where_the_current_leads_into_a_strainer():
    tree = drawn(HazardKind.STRAINER, Point(X0 + 190, Y + SHORE + 2))
    assert above(PLAIN, 186, 24) >= 3
    layers, card = look(tree)
    assert above(layers, 190, 26) == 0
    assert above(layers, 150, 30) >= 3
    assert "by a drawn strainer or where the current leads into it" in card[3]


def test_wading_that_asks_for_more_distance_counts_for_places_too():
    usual = stricter(SETTINGS.hazards, SETTINGS.wading)
    assert (usual.strainer_m, usual.strainer_drift_m) == (4.0, 30.0)
    wide = replace(SETTINGS.wading, hazard_reach_m=9.0, drift_high_m=60.0, drift_width_m=7.0)
    more = stricter(SETTINGS.hazards, wide)
    assert (more.strainer_m, more.strainer_drift_m, more.drift_width_m) == (9.0, 60.0, 7.0)


def test_a_strainer_out_in_the_stream_bars_no_place_the_current_does_not_lead_from():
    tree = drawn(HazardKind.STRAINER, Point(X0 + 190, Y))
    assert len(look(tree)[0]["stations"]) == len(PLAIN["stations"])


def test_nobody_stands_just_above_a_ledge():
    lip = drawn(HazardKind.LEDGE, LineString([(X0 + 170, Y - 18), (X0 + 170, Y + 18)]))
    assert above(PLAIN, 168, 10) >= 2
    layers, _ = look(lip)
    assert above(layers, 170, 15) == 0
    assert above(layers, 150, 30) >= 3


def test_nobody_stands_in_a_soft_bottom():
    silt = drawn(HazardKind.SOFT_BOTTOM, box(X0 + 150, Y - 26, X0 + 170, Y - 15))
    assert (near(PLAIN, silt) <= 1.0).any()
    assert (near(look(silt)[0], silt) > 1.0).all()


@pytest.mark.parametrize("kind", [HazardKind.COLD_INFLOW, HazardKind.OTHER])
def test_a_cold_inflow_or_another_hazard_bars_nothing_and_is_named(kind):
    spot = drawn(kind, Point(X0 + 160, Y - 21), "see note")
    layers, card = look(spot)
    assert len(layers["stations"]) == len(PLAIN["stations"])
    assert "(see note) where you fish" in card[3]
    told = layers["stations"][layers["stations"]["hazard_kind"] == kind.value]
    assert set(told["hazard_note"]) == {"see note"}


def test_every_stand_names_what_matters_most_and_how_far_off():
    lip = drawn(HazardKind.LEDGE, LineString([(X0 + 240, Y - 18), (X0 + 240, Y + 18)]))
    rows = noted(look(lip)[0], "stations")
    rows = rows[rows["station_m"] > 155]
    assert set(rows["hazard_way"]) == {"current"}
    # the current runs straight: by hand the drift is the way down the river to within 4 m of it
    expected = 240 - rows["station_m"].to_numpy() - 4
    assert rows["hazard_distance_m"].to_numpy() == pytest.approx(expected, abs=4.0)
    assert set(rows["hazard_toward"]) == {"down"}
    assert rows["note"].str.contains("the current leads over it").all()


def test_an_undercut_up_the_bank_is_named_by_the_walk_to_it():
    bank = drawn(HazardKind.UNDERCUT, along(90, 104))
    layers, card = look(bank)
    first = layers["stations"].sort_values("station_m").iloc[0]
    assert first["hazard_way"] == "walk"
    # to within 4 m of its lower end, by hand
    assert first["hazard_distance_m"] == pytest.approx(first["station_m"] - 104 - 4, abs=4.0)
    assert "up the bank you walk" in card[3]


def test_what_lies_over_the_river_is_named_straight():
    bank = drawn(HazardKind.UNDERCUT, along(150, 170, 22))
    layers, card = look(bank)
    assert set(layers["stations"]["hazard_way"]) <= {"straight", "here"}
    assert "off to the side" in card[3]


def test_a_strainer_in_the_run_is_named_and_moving_it_changes_the_card():
    cards = [
        look(drawn(HazardKind.STRAINER, Point(X0 + 150 + shift, Y - 9)))[1][3] for shift in (0, 32)
    ]
    assert all("a strainer where you fish" in card for card in cards)
    below = [
        look(drawn(HazardKind.STRAINER, Point(X0 + 225 + shift, Y - 12)))[1][3] for shift in (0, 32)
    ]
    assert below[0] != below[1]
    assert "the current leads into it" in below[0]


def test_absence_is_claimed_only_where_all_was_looked_at():
    claim = "none is drawn within 100 yd of this run, its stands, the way in and the current below"
    assert claim in PLAIN_CARD[3]
    assert claim not in look(access=())[1][3]
    blind = FLOW.copy(deep=True)
    blind["wet"] = blind["wet"].where(GROUND["station"] < 240, Wet.UNKNOWN).astype(np.uint8)
    layers, card = look(flow=blind)
    assert claim not in card[3]
    assert "could not be followed" in card[3]
    assert layers["stations"]["looked_m"].isna().all()


def test_a_drift_off_the_map_is_not_looked_at():
    short = made_ground(length=240, slope=0.0006)
    flow = made_flows(short, {20.0: -0.3})
    mark = hand_markup(short, access=(RIGHT,))
    water = WATER.assign(geometry=[band(short, 120, 200, -16, -6)])
    layers = {"water": water, **assess(short, flow, water, mark, SETTINGS)}
    assert layers["stations"]["looked_m"].isna().all()
    assert "none is drawn" not in card_lines("run 1", "20m3s", layers, mark, SETTINGS)[3]
    zones = noted(layers, "wading")
    assert not zones["note"].str.contains("Nothing drawn lies below").any()


def test_a_zone_with_a_hazard_near_claims_no_absence():
    zones = PLAIN["wading"]
    quiet = {"deep_share": 0.0, "drift_lost": False, "below_kind": None}
    zone = zones[zones["grade"] == "easy"].iloc[0].to_dict() | quiet
    told = [zone_note(zone | {"near_m": far}, UnitSystem.US) for far in (500.0, 40.0)]
    assert "Nothing drawn lies below within 100 yd" in told[0]
    assert "Nothing drawn lies below" not in told[1]
    assert "A hazard is drawn 44 yd off." in told[1]
    notes = noted(look(drawn(HazardKind.UNDERCUT, along(150, 170, 24)))[0], "wading")["note"]
    assert notes.str.contains("A hazard is drawn").any()


def test_a_run_whose_every_place_is_left_out_says_so():
    both = [drawn(HazardKind.UNDERCUT, along(90, 230, side * 19.5)) for side in (-1, 1)]
    wide = replace(SETTINGS, hazards=HazardSettings(undercut_m=6.0))
    layers, card = look(*both, settings=wide)
    assert layers["stations"].empty
    assert card[1].startswith("Every place to stand is left out for a drawn hazard.")
    assert "left out: on a drawn undercut" in card[3]
    runs = runs_with_hazards(_runs(), WATER, layers["stations"], layers["hazards_near"])
    told = run_note(runs.iloc[0].to_dict(), table_frame("runs_by_flow", []), UnitSystem.US)
    assert told.endswith("Every place to stand is left out for a drawn hazard.")
    assert runs["places"].iloc[0] == 0
    assert int(runs["left_out"].iloc[0]) == int(layers["hazards_near"]["left_out"].sum())
    assert bool(runs["hand_shuts"].iloc[0])


def test_hazards_are_named_from_the_water_where_nobody_stands():
    both = [drawn(HazardKind.UNDERCUT, along(90, 230, side * 19.5)) for side in (-1, 1)]
    wide = replace(SETTINGS, hazards=HazardSettings(undercut_m=6.0))
    tree = drawn(HazardKind.STRAINER, Point(X0 + 160, Y - 11), "in it")
    spot = drawn(HazardKind.OTHER, Point(X0 + 160, Y + 45), "on the hill")
    layers, card = look(*both, tree, spot, settings=wide)
    assert layers["stations"].empty
    rows = layers["hazards_near"].set_index("note")
    assert rows.loc["in it", ["way", "distance_m"]].tolist() == ["here", 0.0]
    assert rows.loc["on the hill", "way"] == "straight"
    assert rows.loc["on the hill", "distance_m"] == pytest.approx(51.0)
    assert "a strainer (in it) where you fish" in card[3]


def _runs():
    row = {
        "run": "run 1",
        "named_by": "angler",
        "side": "right",
        "station_m": 120.0,
        "extent_m": 80.0,
        "best_flow_m3_s": 20.0,
        "length_m": 80.0,
        "minutes": 30.0,
        "geometry": WATER.geometry.iloc[0],
    }
    return layer_frame("runs", [row], GROUND.attrs["crs"])


def test_a_run_carries_its_hazard_as_columns():
    lip = drawn(HazardKind.LEDGE, LineString([(X0 + 240, Y - 18), (X0 + 240, Y + 18)]))
    layers, _ = look(lip)
    run = runs_with_hazards(_runs(), WATER, layers["stations"], layers["hazards_near"]).iloc[0]
    assert run[["hazard_kind", "hazard_way", "hazard_toward"]].tolist() == [
        "ledge",
        "current",
        "down",
    ]
    assert run["hazard_distance_m"] == pytest.approx(36, abs=5)
    assert run["looked_m"] == pytest.approx(91.44)


def test_a_hazard_on_the_way_in_is_named_however_far_off():
    near_only = replace(SETTINGS, wading=replace(SETTINGS.wading, below_m=20.0))
    far_access = access_at(X0 + 20, Y - 45)
    lines = [(X0 + 60, Y - 50), (X0 + 60, Y - 18)]
    hole = drawn(HazardKind.OTHER, LineString(lines), "a pit across the path")
    layers, card = look(hole, settings=near_only, access=(far_access,))
    assert near(layers, hole).min() > 20.0
    row = layers["hazards_near"].iloc[0]
    assert (row["way"], row["toward"]) == ("walk", "up")
    # by hand: to within 4 m of the pit from the first place, aslant by at most one in two
    first = layers["stations"]["station_m"].min()
    assert first - 64 - 2 <= row["distance_m"] <= np.sqrt(1.25) * (first - 64) + 2
    assert "a pit across the path" in card[3]
    # with the way in from the other end it is neither near nor passed
    below = access_at(X0 + 300, Y - 45)
    assert look(hole, settings=near_only, access=(below,))[0]["hazards_near"].empty


def test_what_the_line_sweeps_behind_counts():
    stand = PLAIN["stations"].iloc[8]
    behind = np.radians(stand["target_deg"]) + np.pi
    at = np.array([stand.geometry.x, stand.geometry.y])
    spot = at + 4.4 * np.array([np.cos(behind), np.sin(behind)])
    named = look(drawn(HazardKind.OTHER, Point(*spot)))[0]["stations"]
    mine = named[named["code"] == stand["code"]].iloc[0]
    assert mine["hazard_way"] == "here"
    assert mine["hazard_distance_m"] == pytest.approx(4.4, abs=0.1)


def test_the_hazard_that_matters_most_is_one_one_comes_to():
    tree = drawn(HazardKind.STRAINER, Point(X0 + 160, Y - 60), "on the hill")
    lip = drawn(HazardKind.LEDGE, LineString([(X0 + 260, Y - 18), (X0 + 260, Y + 18)]))
    layers, card = look(tree, lip)
    rows = layers["stations"]
    assert card[3].index("a ledge") < card[3].index("a strainer (on the hill)")
    lower = rows[rows["station_m"] > 180]
    assert set(lower["hazard_kind"]) == {"ledge"}


def test_a_swept_area_holds_cast_swing_and_the_line_behind():
    one = np.zeros(1, np.int32)
    stands = Stands(
        one, one, np.zeros((1, 2)), *(np.zeros(1) for _ in range(4)),
        np.array([[0.0, 1.0]]), np.array([[1.0, 0.0]]), np.zeros(1), one > 0, one,
    )  # fmt: skip
    path = np.array([[[0.0, 20.0], [25.0, 15.0], [np.nan, np.nan]]])
    area = swept_areas(
        stands, np.array([np.pi / 2]), np.array([20.0]), path, np.array([6.0]), sweep_deg=15.0
    )[0]
    for x, y in ((0, 19.9), (19.9, 0), (24.8, 15), (0, -5.9), (10, 10)):
        assert area.distance(Point(x, y)) < 0.1
    for x, y in ((0, -6.5), (-3, 5), (10, -3)):
        assert area.distance(Point(x, y)) > 0.3
