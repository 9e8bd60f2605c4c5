from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from shapely import Point

from reachmap.angler import AnglerSettings, CardLayers, assess, run_card
from reachmap.angler.settings import LineSettings, RoomSettings
from reachmap.base.words import AccessKind, HazardKind, UnitSystem
from reachmap.gauge.flow_clarity import sighted
from reachmap.markup.model import Access, Hazard
from tests.angler.hand import KIT, access_at, band, card_lines, hand_markup, hand_water
from tests.made import made_flows, made_ground

SETTINGS = AnglerSettings(line=LineSettings(full=False), room=RoomSettings(rays=3))
GROUND = made_ground(length=320, slope=0.0006)
FLOW = made_flows(GROUND, {20.0: -0.3})
X, Y = float(GROUND["line_x"][160]), float(GROUND["line_y"][160])


def laid(*, ground=GROUND, settings=SETTINGS, **drawn):
    """Return the layers of a made run, its water along the right bank, and the drawing."""
    water = hand_water(
        [band(ground, 120, 200, -16, -6)],
        flow=20.0,
        label="20m3s",
        crs=ground.attrs["crs"],
        stations=[(120, 200)],
    )
    mark = hand_markup(ground, **drawn)
    return {"water": water, **assess(ground, FLOW, water, mark, settings)}, mark


def card(*, ground=GROUND, settings=SETTINGS, run="run 1", label="20m3s", **drawn):
    """Return the card of the made run."""
    layers, mark = laid(ground=ground, settings=settings, **drawn)
    return card_lines(run, label, layers, mark, settings)


def test_a_cast_fits_at_every_place_only_if_none_lacks_the_room():
    layers, mark = laid(access=[RIGHT])
    stands = layers["stations"].assign(fit_snap_t="fits", fit_circle_c="tight")
    bank = stands["side"] == "right"
    assert bank.sum() > 2
    first = stands.index[bank][0]

    def casts(**fits):
        changed = stands.copy()
        for column, fit in fits.items():
            changed.loc[first, column] = fit
        return card_lines("run 1", "20m3s", {**layers, "stations": changed}, mark, SETTINGS)[6]

    assert "snap-T" in casts(fit_overhead="no", fit_static_roll="no")
    lacking = casts(fit_overhead="no", fit_static_roll="no", fit_snap_t="no")
    assert "snap-T" not in lacking
    assert "circle C" in lacking


RIGHT = access_at(X, Y - 45)


def test_a_card_is_for_the_bank_whose_places_give_the_run_its_odds():
    layers, mark = laid(access=[RIGHT])
    stands = layers["stations"].copy()
    assert (stands["side"] == "right").all()
    other = stands.iloc[:1].assign(side="left", odds=0.4)  # one place to many
    both = pd.concat([stands, other], ignore_index=True)

    def side(rows):
        grouped = CardLayers.of({**layers, "stations": rows})
        made = run_card("run 1", "20m3s", grouped, mark, SETTINGS)
        return made.standing.side, made.standing.count

    assert side(both) == ("left", 1)
    assert side(both.assign(odds=np.nan)) == ("right", len(stands))


def test_a_card_has_ten_lines_each_a_sentence_or_two():
    lines = card(access=[RIGHT])
    assert len(lines) == 10
    for line in lines:
        assert line.endswith(".")
        assert len(line) < 200
        assert "nan" not in line.lower()
        assert "safe" not in line.lower()


def test_the_lines_come_in_their_order():
    starts = ["run 1 at", "Way in:", "Stand", "Hazards", "Way back", "Room", "Cast", "Swing", "Fly"]
    for line, start in zip(card(access=[RIGHT]), [*starts, "Step"], strict=True):
        assert line.startswith(start)


def test_places_that_nothing_cuts_off_have_their_way_back_along_the_bank():
    assert "along the bank at every mapped flow" in card(access=[RIGHT])[4]


def test_the_way_in_is_told_as_it_was_drawn():
    assert "on foot" in card(access=[RIGHT])[1]
    assert "not known" in card()[1]
    landing = Access(Point(X, Y + 45), AccessKind.LANDING, "")
    blocked = GROUND.copy(deep=True)
    brush = blocked["offset"].to_numpy() > 19
    blocked["surface"] = blocked["bed"] + np.where(brush, 12.0, 0.0)
    assert "by boat only" in card(ground=blocked, access=[landing])[1]


def test_a_hazard_below_is_named_with_its_distance():
    log = Hazard(Point(X + 40, Y - 17), HazardKind.STRAINER, "big alder")
    line = card(access=[RIGHT], hazards=[log])[3]
    assert "strainer (big alder)" in line
    assert " yd" in line


def test_trees_tight_behind_are_told_in_feet_and_leave_what_fits():
    tight = GROUND.copy(deep=True)
    trees = np.abs(tight["offset"].to_numpy()) > 25
    tight["surface"] = tight["bed"] + np.where(trees, 15.0, 0.0)
    lines = card(ground=tight, access=[RIGHT])
    assert " ft, +-20 %" in lines[5]
    assert "longest head that fits" in lines[5]
    longest = float(lines[5].rpartition("fits ")[2].split("-")[-1].split()[0])
    assert longest < 65
    assert lines[6].startswith("Cast: ")
    assert "65 ft belly" not in lines[6]


def test_unmapped_ground_behind_is_named():
    blind = GROUND.copy(deep=True)
    blind["surface"] = blind["surface"].where(np.abs(blind["offset"].to_numpy()) <= 21)
    lines = card(ground=blind, access=[RIGHT])
    assert "not known" in lines[5]
    assert any("Not known" in line or "none" in line for line in lines[6:])


def test_room_that_one_place_does_not_know_is_said_first():
    layers, mark = laid(access=[RIGHT])
    layers["stations"].loc[layers["stations"].index[0], "room_m"] = np.nan
    line = card_lines("run 1", "20m3s", layers, mark, SETTINGS)[5]
    assert line.startswith("Room behind: not known at 1 of ")
    assert "at the others" in line


def test_numbers_follow_the_units_of_the_folder():
    metric = card(units=UnitSystem.METRIC, access=[RIGHT])
    assert " m, +-20 %" in metric[5]
    assert "m³/s" in metric[0]
    assert " cm, " in metric[8]


def test_clarity_that_nobody_gave_is_named():
    line = card(settings=replace(SETTINGS, clarity_m=float("nan")), access=[RIGHT])[8]
    assert "clarity not known" in line


def test_a_run_without_water_says_so_in_one_line():
    assert card(run="elsewhere") == [
        "elsewhere: no swing water found at 706 cfs. Look at another flow or another run."
    ]


def test_a_kit_without_a_fitting_cast_is_told_so():
    long = replace(KIT, heads=(KIT.heads[2],))
    walled = GROUND.copy(deep=True)
    wall = np.abs(walled["offset"].to_numpy()) > 19
    walled["surface"] = walled["bed"] + np.where(wall, 15.0, 0.0)
    lines = card(ground=walled, kit=long, access=[RIGHT])
    assert "none" in lines[6]
    assert lines[9].startswith("Pace: none")


@pytest.mark.compiled
def test_the_swing_of_the_line_model_is_on_the_card():
    lines = card(settings=AnglerSettings(), access=[RIGHT])
    assert "s to the hang" in lines[7]
    assert "straight across" in lines[7]


def test_a_run_nobody_can_stand_by_has_a_short_card_without_casts():
    layers, mark = laid(access=[RIGHT])
    layers["stations"] = layers["stations"].iloc[:0]
    lines = card_lines("run 1", "20m3s", layers, mark, SETTINGS)
    assert len(lines) == 6
    assert lines[1].startswith("No place found to stand")
    assert lines[4] == "Way back: not known."
    assert not any("Cast:" in line or "Swing:" in line for line in lines)


def test_prime_water_is_called_so():
    assert "prime" not in card(access=[RIGHT])[0]


def test_clarity_that_was_assumed_is_called_so():
    assert "assumed" in card(access=[RIGHT])[8]
    assert "assumed" not in card(settings=replace(SETTINGS, clarity_given=True), access=[RIGHT])[8]


def test_clarity_by_the_rivers_law_chooses_the_fly():
    law = sighted((20.0, 0.2), (40.0, 0.1))
    line = card(settings=replace(SETTINGS, clarity_law=law), access=[RIGHT])[8]
    assert "0.7 ft of clarity" in line
    assert "Clarity 0.4 ft to 0.9 ft, by your two sightings" in line
    assert "assumed" not in line


def test_clarity_beyond_what_was_noted_says_so():
    near, far = (
        card(settings=replace(SETTINGS, clarity_law=sighted(low, (80.0, 0.1))), access=[RIGHT])[8]
        for low in ((20.0, 0.4), (60.0, 0.2))
    )
    assert "nobody noted" not in near
    assert "nobody noted it at such a flow" in far


def test_where_every_head_owned_fits_no_longer_one_is_named():
    short = replace(KIT, heads=KIT.heads[:1])
    assert "every head you own fits" in card(kit=short, access=[RIGHT])[5]


def test_where_some_room_is_not_known_the_line_says_so_and_no_head_always_fits():
    blind = GROUND.copy(deep=True)
    hidden = (np.abs(blind["offset"].to_numpy()) > 21) & (blind["station"].to_numpy() < 160)
    blind["surface"] = blind["surface"].where(~hidden)
    short = replace(KIT, heads=KIT.heads[:1])
    line = card(ground=blind, kit=short, access=[RIGHT])[5]
    known, _, count = line.partition(" at ")[2].partition(" places")[0].partition(" of ")
    assert 0 < int(known) < int(count)
    assert "at the others" in line
    assert "every head you own fits" not in line


def test_the_score_is_that_of_the_runs_best_water_as_in_the_table_of_runs():
    water = hand_water(
        [band(GROUND, 120, 160, -16, -6), band(GROUND, 165, 200, -16, -6)],
        flow=20.0,
        label="20m3s",
        crs=GROUND.attrs["crs"],
        stations=[(120, 160), (165, 200)],
    ).assign(run="run 1", score=[60.0, 80.0], prime=[False, True])
    mark = hand_markup(GROUND, access=[RIGHT])
    layers = {"water": water, **assess(GROUND, FLOW, water, mark, SETTINGS)}
    stations = layers["stations"]
    layers["stations"] = stations[stations["water"] == "E1"]
    assert len(layers["stations"])
    line = card_lines("run 1", "20m3s", layers, mark, SETTINGS)[0]
    assert "score 80 of 100" in line
    assert ", 44 yd;" in line  # 40 m of the piece one can stand by, which is not the prime one
