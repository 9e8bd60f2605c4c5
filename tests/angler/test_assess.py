from dataclasses import replace
from importlib import import_module
from types import SimpleNamespace

import numpy as np
import pytest
from shapely import LineString, Point

from reachmap.angler import AnglerSettings, assess, assess_flow
from reachmap.angler.settings import LineSettings, RoomSettings, WadingSettings
from reachmap.angler.station_rows import station_rows
from reachmap.angler.wind import Wind, WindWord
from reachmap.base.schema import BY_NAME
from reachmap.base.schema_angler import CASTS
from reachmap.base.words import AccessKind, HazardKind, Season, UnitSystem, WadeRule
from reachmap.markup.model import Access, Hazard
from tests.angler.hand import KIT, access_at, band, hand_markup, hand_water, noted
from tests.angler.planned import piece, places, planned, river
from tests.made import made_flows, made_ground

CLOSED = AnglerSettings(line=LineSettings(full=False), room=RoomSettings(rays=3))
GROUND = made_ground(length=320, slope=0.0006)
FLOW = made_flows(GROUND, {20.0: -0.3})
MIDDLE = (float(GROUND["line_x"][160]), float(GROUND["line_y"][160]))


def water(ground=GROUND, low=-16, high=-6):
    """Return one piece of water along river right."""
    return hand_water(
        [band(ground, 120, 200, low, high)],
        flow=20.0,
        label="20m3s",
        crs=ground.attrs["crs"],
        stations=[(120, 200)],
    )


def look(*, ground=GROUND, flow=FLOW, settings=CLOSED, pieces=None, **drawn):
    """Return the layers of the made river."""
    mark = hand_markup(ground, **drawn)
    return assess(ground, flow, water(ground) if pieces is None else pieces, mark, settings)


BOTH = (access_at(MIDDLE[0], MIDDLE[1] - 45), access_at(MIDDLE[0], MIDDLE[1] + 45))


def test_the_layers_are_the_promised_ones():
    for name, frame in look().items():
        names = [column.name for column in BY_NAME[name].columns]
        assert list(frame.columns) == [*names, "geometry"]
        assert str(frame.crs) == GROUND.attrs["crs"]


def test_stations_stand_every_few_yards_on_both_banks():
    stations = look()["stations"]
    for side in ("left", "right"):
        along = np.sort(stations[stations["side"] == side]["station_m"].to_numpy())
        assert 120 - 5 <= along[0] <= 125
        # abreast of the lower end a cast down the current lands below the water
        assert 185 <= along[-1] <= 205
        assert (np.diff(along) < 10).all()
        assert np.diff(along).mean() == pytest.approx(5.0, abs=1.0)


def test_a_bank_no_drawn_way_leads_to_has_no_stations():
    right = access_at(MIDDLE[0], MIDDLE[1] - 45)
    stations = look(access=[right])["stations"]
    assert set(stations["side"]) == {"right"}
    assert set(stations["access"]) == {"foot"}


def test_a_landing_puts_the_other_bank_within_reach_by_boat():
    landing = Access(Point(MIDDLE[0], MIDDLE[1] - 45), AccessKind.LANDING, "")
    stations = look(access=[landing])["stations"]
    assert set(stations[stations["side"] == "left"]["access"]) == {"boat"}
    assert noted({"stations": stations}, "stations")["note"].str.contains("by boat only").any()


def test_nobody_is_sent_on_foot_to_where_a_boat_lands():
    landing = Access(Point(MIDDLE[0], MIDDLE[1] - 45), AccessKind.LANDING, "")
    assert set(look(access=[landing])["stations"]["access"]) == {"boat"}
    path = access_at(MIDDLE[0] + 30, MIDDLE[1] - 45)
    stations = look(access=[landing, path])["stations"]
    assert set(stations[stations["side"] == "right"]["access"]) == {"foot"}


def test_nobody_stands_in_water_out_of_bounds_or_unknown():
    layers = look()
    closed = layers["wading"][layers["wading"]["grade"].isin(["no", "unknown"])]
    shape = closed.geometry.union_all().buffer(-0.1)
    assert not layers["stations"].intersects(shape).any()


def test_casts_point_over_the_river_and_down_it():
    stations = look()["stations"]
    left = stations[stations["side"] == "left"]
    assert (np.sin(np.radians(left["target_deg"])) < 0).all()
    assert (np.sin(np.radians(stations[stations["side"] == "right"]["target_deg"])) > 0).all()
    # down it, or a little up it in slow water
    least = np.sin(np.radians(min(CLOSED.stations.angles_deg)))
    assert (np.cos(np.radians(stations["target_deg"])) >= least - 0.05).all()


def test_no_cast_is_longer_than_the_angler_casts_and_all_land_on_water():
    stations = look()["stations"]
    assert (stations["cast_m"] <= KIT.angler.cast_limit_m + 1e-6).all()
    angle = np.radians(stations["target_deg"].to_numpy())
    reach = stations["cast_m"].to_numpy()
    y = stations.geometry.y.to_numpy() + reach * np.sin(angle) - float(GROUND["line_y"][0])
    assert (np.abs(y) < 20).all()


def test_the_mirrored_river_gives_mirrored_stations():
    ground = made_ground(length=320, slope=0.0006, mirror=True)
    flow = made_flows(ground, {20.0: -0.3})
    here = look(access=BOTH)
    there = look(ground=ground, flow=flow, pieces=water(ground, 6, 16), access=BOTH)
    for mine, other in (("left", "right"), ("right", "left")):
        a = here["stations"][here["stations"]["side"] == mine]
        b = there["stations"][there["stations"]["side"] == other]
        for name in ("depth_m", "room_m", "cast_m", "angle_deg", "head_max_m", "swing_s"):
            assert b[name].to_numpy() == pytest.approx(a[name].to_numpy(), nan_ok=True)
        for name in CASTS.values():
            assert (a[name].to_numpy() == b[name].to_numpy()).all()
    areas = [
        layers["wading"].groupby("grade", observed=True)["area_m2"].sum().to_dict()
        for layers in (here, there)
    ]
    assert areas[0] == areas[1]


def test_unknown_ground_behind_is_never_room():
    blind = GROUND.copy(deep=True)
    away = np.abs(blind["offset"].to_numpy()) > 21
    blind["surface"] = blind["surface"].where(~away)
    stations = noted(look(ground=blind), "stations")
    assert stations["room_m"].isna().all()
    assert stations["head_max_m"].isna().all()
    assert (~stations["casts"].str.contains("single spey")).all()
    assert stations["note"].str.contains("not known").all()


def test_a_hazard_is_named_where_the_current_leads_to_it():
    x, y = MIDDLE
    log = Hazard(Point(x + 60, y - 18), HazardKind.STRAINER, "big alder")
    zones = noted(look(hazards=[log]), "wading")
    named = zones[zones["note"].str.contains("big alder")]
    assert len(named)
    assert named["note"].str.contains("strainer").all()
    assert (named["below_kind"] == "strainer").all()
    assert (named["below_note"] == "big alder").all()


def test_a_ledge_right_across_closes_the_water_above_it():
    x, y = MIDDLE
    ledge = Hazard(LineString([(x, y - 25), (x, y + 25)]), HazardKind.LEDGE, "")
    open_water = look()["wading"]
    closed = look(hazards=[ledge])["wading"]

    def waded(zones):
        return zones[zones["grade"].isin(["easy", "careful"])]["area_m2"].sum()

    assert waded(closed) < waded(open_water)
    above = Point(x - 10, y - 18.5)
    assert (closed[closed.contains(above)]["grade"] == "no").all()


def test_a_stricter_rule_never_opens_water():
    def waded(rules):
        wading = WadingSettings(rules=rules)
        zones = look(settings=replace(CLOSED, wading=wading))["wading"]
        return zones[zones["grade"].isin(["easy", "careful"])]["area_m2"].sum()

    lax = waded((WadeRule.TEN,))
    assert waded((WadeRule.TEN, WadeRule.NORMAL)) <= lax
    assert waded((WadeRule.TEN, WadeRule.POOR)) <= waded((WadeRule.TEN, WadeRule.NORMAL))


def test_the_wind_moves_the_loop_to_its_lee():
    for word, side in ((WindWord.UPSTREAM, "upstream"), (WindWord.DOWNSTREAM, "downstream")):
        stations = look(settings=replace(CLOSED, wind=Wind(word)))["stations"]
        made = stations[stations["cast"].notna()]
        assert set(made["loop_side"]) == {side}


def test_a_left_hand_swaps_natural_and_off():
    other = replace(KIT, angler=replace(KIT.angler, hand=KIT.angler.hand.LEFT))
    right = look(settings=replace(CLOSED, wind=Wind(WindWord.UPSTREAM)))["stations"]
    left = look(kit=other, settings=replace(CLOSED, wind=Wind(WindWord.UPSTREAM)))["stations"]
    assert set(right[right["side"] == "left"]["natural_hand"]) == {True}
    assert set(left[left["side"] == "left"]["natural_hand"]) == {False}


def test_summer_asks_for_a_quicker_fly():
    winter = look()["stations"]["angle_deg"].mean()
    assert look(season=Season.SUMMER)["stations"]["angle_deg"].mean() <= winter


def test_notes_are_in_the_units_of_the_folder():
    layers = look()
    us, metric = (noted(layers, "stations", units) for units in UnitSystem)
    assert us["note"].str.contains("ft clear").all()
    assert metric["note"].str.contains("m clear").all()


def test_no_note_promises_anything():
    layers = look(access=BOTH)
    for name in ("wading", "bars", "stations", "swings"):
        text = " ".join(noted(layers, name)["note"]).lower()
        assert "safe" not in text
        assert "issue" not in text


def test_without_water_there_are_zones_and_no_stations():
    layers = look(pieces=water().iloc[:0])
    assert len(layers["wading"])
    assert layers["stations"].empty


def test_flow_and_ground_must_match():
    with pytest.raises(ValueError, match="one flow"):
        look(flow=made_flows(GROUND, {10.0: -0.5, 20.0: -0.3}))
    with pytest.raises(ValueError, match="different rasters"):
        look(flow=FLOW.isel(flow=0, x=slice(0, 50)))


@pytest.mark.compiled
def test_the_line_is_swung_in_the_field_and_swims_its_water():
    layers = look(settings=AnglerSettings(), access=BOTH)
    stations, swings = layers["stations"], noted(layers, "swings")
    assert len(stations)
    assert set(swings["code"]) == set(stations["code"])
    assert (swings.geometry.length <= swings["length_m"] + 1e-6).all()
    assert swings["note"].str.contains("pace").all()
    assert set(stations["swing_end"]) <= {"hangs", "stalls", "leaves", "aground", "touches"}
    known = stations.dropna(subset=["swing_s"])
    assert (known["swing_s"] > 0).all()
    assert (known["fly_depth_m"] >= -0.05).all()
    # the far bank's water is not swung from over there: the line would only drag the fly out of it
    assert set(stations["side"]) == {"right"}


@pytest.mark.compiled
def test_what_the_casts_cover_is_told_place_by_place_of_the_stations():
    mark = hand_markup(GROUND, access=BOTH)
    got = assess_flow(GROUND, FLOW, water(), mark, AnglerSettings())
    stations, swept = got.layers["stations"], got.swept
    assert swept.count == len(stations) > 0
    assert set(np.unique(swept.place)) <= set(range(len(stations)))
    shape = GROUND.sizes["y"], GROUND.sizes["x"]
    row, col = np.divmod(swept.cell, shape[1])
    x, y = GROUND["x"].to_numpy()[col], GROUND["y"].to_numpy()[row]
    for number, place in enumerate(stations.geometry):
        mine = swept.place == number
        # no fly lands farther off than the longest cast, and the places' casts are 5 m apart
        far = np.hypot(x[mine] - place.x, y[mine] - place.y)
        assert far.max(initial=0.0) <= mark.plan.kit.angler.cast_limit_m + 8.0
    none = assess_flow(GROUND, FLOW, water().iloc[:0], mark, CLOSED)
    assert none.swept.count == 0
    assert len(none.layers["covered"]) == 0


def test_a_swing_that_touches_bottom_says_so_whatever_its_end(monkeypatch):
    def touching(view, chosen, *rest):
        near = chosen.plans.inside
        drags = replace(near.judged, drag=np.full(len(chosen.stands), 0.2))
        plans = replace(chosen.plans, inside=replace(near, judged=drags))
        return station_rows(view, replace(chosen, plans=plans), *rest)

    stage = import_module("reachmap.angler.assess")  # the name in the package is the function's
    monkeypatch.setattr(stage, "station_rows", touching)
    assert set(look(access=BOTH)["stations"]["swing_end"]) == {"touches"}


def test_the_water_that_the_second_pass_sweeps_counts_for_hazards_too():
    stage = import_module("reachmap.angler.assess")
    view = river()
    _, made = planned(view, places(view, (20,)), piece(1, 25), settings=CLOSED)
    chosen = SimpleNamespace(stands=places(view, (20,)), near=made.inside, plans=made)
    [swept] = stage._swept(chosen, hand_markup(GROUND), CLOSED)
    reach = float(made.outside.tries.cast_m[0])
    target = made.outside.target_rad[0]
    x, y = chosen.stands.point[0]
    lands = Point(x + (reach - 0.1) * np.cos(target), y + (reach - 0.1) * np.sin(target))
    assert reach > made.inside.tries.cast_m[0]
    assert swept.buffer(0.01).contains(lands)


def test_no_water_grades_better_than_at_the_solved_flows_beside_it():
    def waded(layers):
        zones = layers["wading"]
        return zones[zones["grade"].isin(["easy", "careful"])].geometry.union_all()

    higher = made_flows(GROUND, {30.0: 0.6})
    alone, above = waded(look()), waded(look(flow=higher))
    pieces = water(GROUND)
    held = waded(assess(GROUND, FLOW, pieces, hand_markup(GROUND), CLOSED, neighbours=(higher,)))
    assert alone.difference(above).area > 0  # or this says nothing
    under = look(flow=higher)["wading"].geometry.union_all()
    assert held.intersection(under).difference(above).area < 1e-6
    assert held.area < alone.area
