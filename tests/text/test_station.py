"""What is said at a place to stand: what is not known is never dry, clear or open."""

import math

import pytest
from shapely import Point

from reachmap.base.schema import layer_frame
from reachmap.base.schema_angler import CASTS
from reachmap.base.words import UnitSystem
from reachmap.text.station import casts_words, station_note, tight_words
from reachmap.text.way_back import way_back_sentence
from tests.made import CRS


def row(**other):
    """Return a row of the layer `stations`: dry, roomy, by land."""
    told = {
        "flow": 20.0, "flow_label": "20m3s", "code": "E1-1", "water": "E1", "side": "left",
        "depth_m": 0.0, "speed_m_s": 0.0, "room_m": 12.0, "cast": "snap-T", "head": "24 ft head",
        "cast_m": 20.0, "angle_deg": 45.0, "head_max_m": 9.0, "tip": "T-8", "swing_s": 30.0,
        "access": "foot", "geometry": Point(0, 0),
        **dict.fromkeys(CASTS.values(), "no"), "fit_snap_t": "fits",
    }  # fmt: skip
    return layer_frame("stations", [told | other], CRS).iloc[0].to_dict()


@pytest.mark.parametrize(
    ("depth", "words"),
    [
        (0.0, "Stand on dry ground."),
        (0.6096, "Stand in the water: reckon with 2 ft."),
        (math.nan, "Stand in the water: reckon with not known."),
    ],
)
def test_a_depth_nobody_knows_is_not_dry_ground(depth, words):
    assert station_note(row(depth_m=depth), UnitSystem.US).startswith(words)


@pytest.mark.parametrize(
    ("fit", "words"),
    [
        ("fits", "39 ft clear behind (+-20 %). Heads up to 30 ft. Snap-T with 24 ft head fits."),
        ("tight", "Snap-T with 24 ft head only just fits: look behind you."),
        ("unknown", "What stands behind is not known: look before you cast."),
        ("no", "No room behind for any cast you own."),
    ],
)
def test_the_room_behind_is_that_of_the_best_cast(fit, words):
    assert words in station_note(row(fit_snap_t=fit), UnitSystem.US)


def test_a_head_that_is_partly_out_says_how_much():
    words = station_note(row(head_out_m=12 * 0.3048), UnitSystem.US)
    assert "Snap-T with 12 ft of 24 ft head out fits." in words


def test_casts_that_fit_come_before_tight_ones_least_room_first():
    one = row(fit_perry_poke="tight", fit_double_spey="fits", fit_snap_t="fits")
    assert casts_words(one) == "double spey, snap-T, perry poke"
    assert tight_words(one) == "perry poke"


def test_more_water_is_said_before_the_way_back_and_boats_before_both():
    shut = row(
        access="boat", hand_shuts=True, hand_m=0.1, hand_flow_m3_s=25.0,
        open_until_m3_s=30.0, cut_off_m3_s=45.0, cut_off_rise_m=0.5,
    )  # fmt: skip
    assert station_note(shut, UnitSystem.METRIC).endswith(
        "No way to it on foot was drawn: by boat only. 0.1 m more water, about 25 m³/s, shuts it "
        "or the way to it. Way back cut off by 45 m³/s, the water 0.5 m higher than now; still "
        "open at 30 m³/s."
    )


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({}, ""),
        ({"open_until_m3_s": 90.0}, "Way back open up to 90 m³/s, the highest flow mapped."),
        (
            {"open_until_m3_s": 20.0, "cut_off_m3_s": 45.0},
            "Way back cut off by 45 m³/s: leave as soon as it rises.",
        ),
    ],
)
def test_the_way_back_is_told_by_its_facts(facts, words):
    assert way_back_sentence(row(**facts), UnitSystem.METRIC) == words
