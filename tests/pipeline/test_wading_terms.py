"""The terms of the grading in the report: person, limits, chances, and margins switched off."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.words import WadeRule, Wet
from reachmap.markup import read_markup
from reachmap.markup.model import Track
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.wading_terms import margins_off, wading_terms
from tests.made import made_flows, made_ground

SAMPLE = Path(__file__).resolve().parents[2] / "data_samples" / "madeup_river"
GROUND = made_ground(length=120)
FLOW = made_flows(GROUND, {20.0: -0.6})
TERRAIN, DRAWN = (GROUND.assign_attrs(vertical=kind) for kind in ("dem", "local"))
USUAL = WadingSettings()


@pytest.fixture(scope="module")
def reach():
    return read_markup(SAMPLE)


def test_the_usual_settings_switch_no_margin_off():
    assert margins_off(USUAL, 1.78, 70.0) == []


MARGINS = [
    ("doubt", "doubt", 1.0, -1),
    ("speed_doubt", "speed_doubt", 0.1, -1),
    ("place_error_m", "place_error", 2.0, -1),
    ("hazard_reach_m", "hazard_reach", 2.0, -1),
    ("drift_high_m", "drift", 10.0, -1),
    ("easy_chance", "easy_chance", 0.02, 1),
    ("careful_chance", "careful_chance", 0.05, 1),
    ("depth_share_high", "depth_share", 0.5, 1),
    ("brush_depth_high_m", "brush_depth", 0.5, 1),
]
"""Setting, key, last value that leaves the margin on, and the side on which it is off."""


@pytest.mark.parametrize(("name", "key", "last", "side"), MARGINS, ids=[row[1] for row in MARGINS])
def test_every_margin_beyond_its_range_is_named(name, key, last, side):
    beyond = replace(USUAL, **{name: last + side * 0.01})
    assert [part.split(" ")[0] for part in margins_off(beyond, 1.78, 70.0)] == [key]
    assert margins_off(replace(USUAL, **{name: last}), 1.78, 70.0) == []


def test_no_doubt_at_all_is_named():
    assert margins_off(replace(USUAL, doubt=0.0), 1.78, 70.0) == ["doubt 0 is below 1"]


def test_a_body_heavier_than_those_the_rules_were_tested_with_is_named():
    # height times mass up to 173 m kg: Abt and others 1989, read in Cox 2011, slides
    assert margins_off(USUAL, 1.78, 97.0) == []
    assert margins_off(USUAL, 1.78, 98.0) == [
        "mass 98 kg is beyond the people the rules were tested with"
    ]


def test_rules_left_out_are_named():
    less = tuple(rule for rule in USUAL.rules if rule is not WadeRule.POOR)
    off = margins_off(replace(USUAL, rules=less), 1.78, 70.0)
    assert off == [
        "rules left out: poor conditions",
        "no rule for footing and cold is in force",
    ]


def test_the_terms_hold_the_person_the_limits_and_the_chances(reach):
    settings = settings_for(reach, Options())
    terms = wading_terms(reach, TERRAIN, FLOW, settings)
    person = reach.plan.kit.angler
    assert terms["height_m"] == person.height_m
    # poor conditions: 0.002 H M + 0.1 (Karvonen and others 2000, from memory)
    poor = 0.002 * person.height_m * terms["mass_kg"] + 0.1
    assert terms["limit_product_m2_s"] == pytest.approx(poor)
    assert terms["rule"] == "poor conditions"
    assert (terms["easy_chance"], terms["careful_chance"]) == (0.002, 0.0125)
    assert terms["easy_allowed"]
    assert "soundings" in terms["evidence"]
    assert terms["gauge"] == "read"


def test_tracks_and_a_bed_seen_under_water_are_named_among_the_evidence(reach):
    settings = settings_for(reach, Options())
    drive = Track("drive", *(np.ones(3),) * 3, 20.0)
    driven = replace(reach, soundings=(), tracks=(drive,))
    told = wading_terms(driven, TERRAIN, FLOW, settings)["evidence"]
    assert told == "a terrain model and 1 drive with an echo sounder"
    below = TERRAIN.assign_attrs(bed_seen=1)
    assert "knows the bed under water" in wading_terms(reach, below, FLOW, settings)["evidence"]
    assert "under water" not in told


def test_without_a_terrain_model_nothing_is_easy_and_the_terms_say_what_it_takes(reach):
    terms = wading_terms(reach, DRAWN, FLOW, settings_for(reach, Options()))
    assert not terms["easy_allowed"]
    assert "terrain model" in terms["easy_needs"]


def test_without_a_gauge_the_flow_is_a_guess(reach):
    bare = replace(reach, gauge=None)
    settings = settings_for(bare, Options())
    assert settings.angler.wading.gauge_error == 0.25
    assert wading_terms(bare, TERRAIN, FLOW, settings)["gauge"] == "guessed"
    own = replace(bare.plan.own, numbers={**bare.plan.own.numbers, "wading.gauge_error": 0.0})
    said = replace(bare, plan=replace(bare.plan, own=own))
    assert settings_for(said, Options()).angler.wading.gauge_error == 0.0


def test_steps_and_drawn_ledges_about_which_nothing_is_graded_are_counted(reach):
    settings = settings_for(reach, Options())
    line = {
        "low_line_station": np.arange(0.0, 121.0, 2.0),
        "low_line_level": np.where(np.arange(0.0, 121.0, 2.0) > 60, 99.5, 100.0),
    }
    stepped = TERRAIN.assign_attrs(line)
    terms = wading_terms(reach, stepped, FLOW, settings)
    assert (terms["steps"], terms["ledges"]) == (1, 1)  # one ledge is drawn in the sample
    width = float(np.median(TERRAIN["line_width"]))
    assert terms["steps_below_m"] == pytest.approx(2 * width)
    assert wading_terms(reach, TERRAIN, FLOW, settings)["steps"] == 0
    known = wading_terms(reach, stepped.assign_attrs(bed_seen=1), FLOW, settings)
    assert (known["steps"], known["ledges"]) == (0, 0)


def test_a_preview_reckons_with_larger_errors(reach):
    full, quick = (
        settings_for(reach, Options(quick=quick)).angler.wading.doubt for quick in (False, True)
    )
    assert quick == pytest.approx(1.5 * full)


def test_a_braided_river_and_large_cells_are_said_not_to_be_graded(reach):
    settings = settings_for(reach, Options())
    assert wading_terms(reach, TERRAIN, FLOW, settings)["not_graded"] == ""
    coarse = TERRAIN.assign_attrs(cell=4.0)
    assert "cells" in wading_terms(reach, coarse, FLOW, settings)["not_graded"]
    wet = FLOW["wet"].to_numpy().copy()
    wet[:, np.abs(TERRAIN["offset"].to_numpy()) < 5] = Wet.NO
    braided = FLOW.assign(wet=(FLOW["wet"].dims, wet))
    assert "several threads" in wading_terms(reach, TERRAIN, braided, settings)["not_graded"]
