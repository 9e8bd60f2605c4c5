"""Each thing an angler can get wrong gives one message: where, what, how to mend it."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
from shapely import Point
from shapely.affinity import scale, translate

from reachmap.base.errors import Fault, MarkupError
from reachmap.markup import read_markup
from reachmap.markup.check import CHECKS, NOTES
from reachmap.markup.config import read_plan
from reachmap.markup.drawing import Drawing, no_features
from tests.markup import cases_drawing, cases_files
from tests.markup.cases_drawing import BOW_TIE
from tests.markup.folders import CRS, TOML, at, box, line, make, rows, with_line, write_dem

CASES = {**cases_drawing.CASES, **cases_files.CASES}


def faults_of(folder: Path) -> list[Fault]:
    with pytest.raises(MarkupError) as caught:
        read_markup(folder)
    return list(caught.value.faults)


@pytest.mark.parametrize("case", CASES, ids=list(CASES))
def test_a_spoilt_folder_gives_its_message(case, tmp_path):
    spoil, where, found, fix = CASES[case]
    spoil(tmp_path / "reach")
    faults = faults_of(tmp_path / "reach")
    fits = [one for one in faults if where in one.where and found in one.found and fix in one.fix]
    assert len(fits) == 1, "\n".join(map(str, faults))


def test_an_unspoilt_folder_reads_well(tmp_path):
    markup = read_markup(make(tmp_path / "reach"))
    assert markup.main.line.length == pytest.approx(600)


ALONE = ["wrong side", "unknown cover", "edge without flow", "same run name", "two pieces"]
"""Faults that no other fault follows from."""


@pytest.mark.parametrize("case", [*ALONE, "half a DEM", "falling rating", "far access", "no cover"])
def test_one_thing_wrong_gives_one_fault(case, tmp_path):
    CASES[case][0](tmp_path / "reach")
    assert len(faults_of(tmp_path / "reach")) == 1


def test_five_things_wrong_are_all_told_at_once(tmp_path):
    made = rows()
    made["banks"][0]["cover"] = "lava"
    made["edges"][0]["flow"] = None
    made["runs"][1]["name"] = "Bar run"
    make(tmp_path, made=made, toml=with_line(TOML, "height = 1.8", "height = 6"), dem=False)
    write_dem(tmp_path / "dem.tif", x1=200.0)
    with pytest.raises(MarkupError) as caught:
        read_markup(tmp_path)
    text = str(caught.value)
    assert len(caught.value.faults) == 5, text
    assert text.startswith("5 things to put right in the reach folder:\n  1. ")
    for word in ("'lava'", "flow is not given", "'Bar run'", "6 is 6 m", "34% of the river line"):
        assert word in text


def test_broken_settings_do_not_hide_faults_of_the_drawing(tmp_path):
    made = rows()
    made["banks"][0]["cover"] = "lava"
    make(tmp_path, made=made, toml="format = [", gauge=False)
    told_all = "\n".join(map(str, faults_of(tmp_path)))
    assert "not valid TOML" in told_all
    assert "'lava'" in told_all


def test_a_bank_at_fault_does_not_hide_that_another_overlaps_the_line(tmp_path):
    made = rows()
    made["banks"][0]["geometry"] = BOW_TIE
    made["banks"][1]["geometry"] = translate(made["banks"][1]["geometry"], 0, -25)
    make(tmp_path, made=made)
    told_all = "\n".join(map(str, faults_of(tmp_path)))
    assert "crosses or touches itself" in told_all
    assert "covers 300 m" in told_all


def test_every_check_bears_a_drawing_of_nothing_and_one_of_nothing_but_faults():
    reach_toml = read_plan("")
    empty = Drawing(crs="", reach_toml=reach_toml, features=no_features())
    for check in (*CHECKS, *NOTES):
        assert isinstance(check(empty), list)


def test_every_check_bears_a_drawing_whose_shapes_and_words_are_all_at_fault(tmp_path):
    made = {
        name: [
            {
                "geometry": None,
                **{
                    key: ("?" if isinstance(value, str) else None)
                    for key, value in row.items()
                    if key != "geometry"
                },
            }
            for row in each
        ]
        for name, each in rows().items()
    }
    make(tmp_path, made=made)
    assert len(faults_of(tmp_path)) > 20


def test_slivers_between_banks_are_a_note_not_a_fault(tmp_path):
    made = rows()
    made["banks"][1]["geometry"] = translate(made["banks"][1]["geometry"], -1.0, 0)
    markup = read_markup(make(tmp_path, made=made))
    assert any("1 pairs of banks overlap" in sentence for sentence in markup.assumed)


def test_a_bank_in_a_tight_bend_is_judged_by_what_lies_next_to_it(tmp_path):
    # the land inside a hairpin is near both limbs, and on one side of both
    angle = np.linspace(-np.pi / 2, np.pi / 2, 40)
    bend = [(400 + 60 * math.cos(a), 60 + 60 * math.sin(a)) for a in angle]
    made = rows()
    made["river"] = [{"geometry": line((0, 0), *bend, (0, 120)), "part": "main"}]
    made["banks"] = [
        {"geometry": box(50, 20, 390, 100), "side": "left", "cover": "grass"},
        {"geometry": box(50, -90, 390, -20), "side": "right", "cover": "trees"},
    ]
    made["levels"] = []
    markup = read_markup(make(tmp_path, made=made, dem=False))
    assert len(markup.banks) == 2


def test_hostile_and_long_text_stays_text(tmp_path):
    evil = '<script>alert(1)</script> {{ 7*7 }} \u202e"quoted" ' + "x" * 10_000
    made = rows()
    made["runs"][0]["name"] = evil
    made["banks"][0]["note"] = evil
    made["hazards"][0]["note"] = "=cmd|' /C calc'!A0"
    markup = read_markup(make(tmp_path, made=made))
    assert markup.runs[0].name == evil
    assert markup.banks[0].note == evil
    assert markup.hazards[0].note == "=cmd|' /C calc'!A0"


def test_a_long_name_does_not_flood_the_message(tmp_path):
    made = rows()
    made["banks"][0].update(name="n" * 10_000, cover="c" * 10_000)
    assert all(len(str(fault)) < 500 for fault in faults_of(make(tmp_path, made=made)))


def test_layers_in_feet_of_a_us_crs_come_out_in_metres(tmp_path):
    make(tmp_path)
    frame = gpd.read_file(tmp_path / "markup.gpkg", layer="trees").to_crs("EPSG:2991")
    frame.to_file(tmp_path / "trees.gpkg", layer="trees")
    made = rows()
    made["trees"] = []
    make(tmp_path, made=made)
    tree = read_markup(tmp_path).trees[0]
    assert tree.place.distance(at(120, 40)) < 0.01


def test_a_crs_that_lies_about_its_unit_is_found_by_distance(tmp_path):
    made = rows()
    make(tmp_path, made={**made, "rocks": []})
    far = gpd.GeoDataFrame(
        {"height": [1.0], "size": [1.0]}, geometry=[scale(Point(1.6e6, 1.6e7))], crs=CRS
    )
    pyogrio.write_dataframe(far, tmp_path / "rocks.fgb")
    assert any("from the river" in fault.found for fault in faults_of(tmp_path))


def test_frozen_drawings_can_be_changed_only_by_copy():
    drawing = Drawing(crs="", reach_toml=read_plan(""), features=no_features())
    assert replace(drawing, crs=CRS).crs == CRS
    assert drawing.crs == ""
