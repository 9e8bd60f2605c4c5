"""Each thing an angler can get wrong gives one message: where, what, how to mend it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from shapely import Point, Polygon
from shapely.affinity import scale, translate

from reachmap.base.errors import Fault, MarkupError
from reachmap.markup import open_reach
from reachmap.markup.check import CHECKS, NOTES
from reachmap.markup.drawing import Drawing, no_features
from reachmap.markup.plan import read_plan
from tests.markup import folders
from tests.markup.folders import CRS, TOML, at, box, line, make, rows, with_line, write_dem

Spoil = Callable[[Path], None]


def faults_of(folder: Path) -> list[Fault]:
    with pytest.raises(MarkupError) as caught:
        open_reach(folder)
    return list(caught.value.faults)


def drawn(**changes) -> Spoil:
    """Return a spoiler that changes features: layer=function of its rows, which returns rows."""

    def spoil(folder: Path) -> None:
        made = rows()
        for layer, change in changes.items():
            made[layer] = change(made[layer])
        make(folder, made=made)

    return spoil


def told(old: str, new: str, **options) -> Spoil:
    """Return a spoiler that changes a line of reach.toml."""
    return lambda folder: make(folder, toml=with_line(TOML, old, new), **options) and None


def field(number: int, **values):
    """Return a change that sets fields of one row."""

    def change(given):
        given[number].update(values)
        return given

    return change


def shape(number: int, move: Callable):
    """Return a change of one row's geometry."""

    def change(given):
        given[number]["geometry"] = move(given[number]["geometry"])
        return given

    return change


def plus(**row):
    """Return a change that adds a row."""
    return lambda given: [*given, row]


def without(*numbers: int):
    """Return a change that takes rows out."""
    return lambda given: [row for index, row in enumerate(given) if index not in numbers]


def dem(**options) -> Spoil:
    """Return a spoiler that writes another DEM."""

    def spoil(folder: Path) -> None:
        make(folder, dem=False)
        write_dem(folder / "dem.tif", **options)

    return spoil


def fed(text: str, name: str = "rating.csv") -> Spoil:
    """Return a spoiler that writes another gauge file."""

    def spoil(folder: Path) -> None:
        make(folder)
        (folder / "gauge" / name).write_text(text, encoding="utf-8")

    return spoil


BOW_TIE = Polygon(
    [(folders.X, folders.Y + 30), (folders.X + 50, folders.Y + 50)]
    + [(folders.X + 50, folders.Y + 30), (folders.X, folders.Y + 50)]
)

CASES: dict[str, tuple[Spoil, str, str, str]] = {
    # layers
    "no river": (drawn(river=lambda _: []), "river", "nothing is drawn", "river.geojson"),
    "no banks": (drawn(banks=lambda _: []), "banks", "nothing is drawn", "banks.geojson"),
    # geometry
    "empty bank": (
        drawn(banks=field(0, geometry=Polygon())),
        "banks 'upper bar' (feature 1 of markup.gpkg",
        "nothing is drawn",
        "delete the row",
    ),
    "no geometry": (
        drawn(access=field(0, geometry=None)),
        "access (feature 1",
        "nothing is drawn",
        "delete the row",
    ),
    "bow tie": (
        drawn(banks=field(0, geometry=BOW_TIE)),
        "banks 'upper bar'",
        "crosses or touches itself at latitude 46.",
        "Move the corners",
    ),
    "NaN corner": (
        drawn(
            river=shape(
                1, lambda g: shapely.set_coordinates(g, shapely.get_coordinates(g) * np.nan)
            )
        ),
        "river 'back channel'",
        "not a number",
        "Draw it again",
    ),
    "line for a polygon": (
        drawn(banks=field(0, geometry=line((0, 30), (100, 30)))),
        "banks 'upper bar'",
        "drawn as a line",
        "Draw it as a polygon",
    ),
    "line of no length": (
        drawn(edges=field(0, geometry=line((5, 5), (5, 5)))),
        "edges",
        "no length",
        "Draw it again",
    ),
    "river crosses itself": (
        drawn(river=field(0, geometry=line((0, 0), (300, 5), (300, -5), (150, 8), (600, 0)))),
        "river 'Invented'",
        "the line crosses itself at latitude",
        "Move its corners",
    ),
    # river
    "two pieces": (
        drawn(
            river=lambda given: [
                {"geometry": line((300, 0), (600, 0)), "part": "main"},
                {"geometry": line((0, 0), (288, 0)), "part": "main"},
                given[1],
            ]
        ),
        "river",
        "in 2 pieces (river (feature 1 of markup.gpkg, layer river), river (feature 2 of "
        "markup.gpkg, layer river)); nearest ends are 12 m apart",
        "Join them into one line drawn downstream, river (feature 2",
    ),
    "pieces within one feature": (
        drawn(
            river=shape(
                0,
                lambda _: shapely.MultiLineString(
                    [line((0, 0), (290, 0)), line((300, 0), (600, 0))]
                ),
            )
        ),
        "river",
        "in 2 pieces",
        "part 1 before",
    ),
    "no main line": (
        drawn(river=field(0, part="side")),
        "river",
        "no line is the main one",
        "part = main",
    ),
    "short river": (
        drawn(river=field(0, geometry=line((0, 0), (60, 0)))),
        "river 'Invented'",
        "60 m long",
        "CRS is the true one",
    ),
    "upstream by the DEM": (
        drawn(river=shape(0, lambda g: g.reverse())),
        "river 'Invented'",
        "drawn upstream: the DEM's heights rise 1.2 m",
        "Reverse the line",
    ),
    "upstream by levels": (
        drawn(river=shape(0, lambda g: g.reverse())),
        "river 'Invented'",
        "drawn upstream: the levels you noted rise 1.2 m",
        "Reverse the line",
    ),
    "upstream by banks": (
        drawn(river=shape(0, lambda g: g.reverse())),
        "banks",
        "3 of 3 banks lie on the other side",
        "drawn upstream: reverse it (so do the heights",
    ),
    "sides swapped": (
        drawn(
            banks=lambda given: [
                {**row, "side": {"left": "right", "right": "left"}.get(row["side"], "island")}
                for row in given
            ]
        ),
        "banks",
        "3 of 3 banks lie on the other side",
        "left and right are swapped",
    ),
    "side channel upstream": (
        drawn(river=shape(1, lambda g: g.reverse())),
        "river 'back channel'",
        "drawn upstream",
        "Reverse the line",
    ),
    "no slope": (
        lambda folder: make(
            folder,
            toml=with_line(TOML, "slope = 0.002", ""),
            made={**rows(), "levels": []},
            dem=False,
        ),
        "[river]",
        "how steep",
        "Add slope or fall",
    ),
    # banks
    "wrong side": (
        drawn(banks=field(1, side="right")),
        "banks 'alder flat'",
        "says right but lies on river left",
        "Correct its side",
    ),
    "one side only": (
        drawn(banks=without(2)),
        "banks",
        "no bank on river right",
        "Draw the right bank",
    ),
    "over the line": (
        drawn(banks=shape(1, lambda g: translate(g, 0, -25))),
        "banks 'alder flat'",
        "covers 300 m of the river line",
        "from the water's edge",
    ),
    "over each other": (
        drawn(banks=shape(1, lambda g: translate(g, -50, 0))),
        "banks 'upper bar'",
        "overlaps banks 'alder flat'",
        "Cut one out",
    ),
    "far too wide": (
        drawn(
            banks=lambda given: [
                {**given[0], "geometry": box(0, 400, 600, 500)},
                {**given[2], "geometry": box(0, -500, 600, -400)},
            ]
        ),
        "banks",
        "800 m wide",
        "feet taken for metres",
    ),
    # words and numbers
    "unknown cover": (
        drawn(banks=field(0, cover="gravle")),
        "banks 'upper bar'",
        "cover is 'gravle'",
        "Did you mean 'gravel'? Use one of: gravel, sand, grass, brush, trees, rock, cutbank, built",
    ),
    "no cover": (
        drawn(banks=field(0, cover=None)),
        "banks 'upper bar'",
        "cover is not given",
        "Use one of: gravel",
    ),
    "unknown side": (
        drawn(banks=field(0, side="L")),
        "banks 'upper bar'",
        "side is 'L'",
        "left, right, island",
    ),
    "unknown kind": (
        drawn(hazards=field(0, kind="sweeper")),
        "hazards",
        "kind is 'sweeper'",
        "strainer, ledge, undercut, soft bottom, cold inflow, other",
    ),
    "unknown part": (drawn(river=field(1, part="sidee")), "river", "part is 'sidee'", "'side'"),
    "rise in feet": (
        drawn(banks=field(0, rise=100.0)),
        "banks 'upper bar'",
        "rise: 100.0 is 100 m",
        'Meant in ft? Then write it with its unit, like "100 ft"',
    ),
    "edge without flow": (
        drawn(edges=field(0, flow=None)),
        "edges",
        "flow is not given",
        "Fill it in",
    ),
    "speed without flow": (
        drawn(speeds=field(0, flow=None)),
        "speeds",
        "flow is not",
        "Fill it in",
    ),
    "fast water": (drawn(speeds=field(0, speed=30.0)), "speeds", "speed: 30.0", "Wants 0 to 8 m/s"),
    # spots
    "nothing sounded": (
        drawn(soundings=field(0, depth=None)),
        "soundings 'S1'",
        "neither depth nor bed",
        "Fill in depth",
    ),
    "depth without flow": (
        drawn(soundings=field(0, flow=None)),
        "soundings 'S1'",
        "a depth but no flow",
        "flow when",
    ),
    "deep sounding": (drawn(soundings=field(0, depth=40.0)), "soundings", "40.0 is 40 m", "40 ft"),
    "dry sounding": (
        drawn(soundings=field(0, geometry=at(100, 400))),
        "soundings 'S1'",
        "400 m from the river line, on dry land",
        "Move it into the water",
    ),
    "level in feet": (
        drawn(levels=field(0, level=328.0)),
        "levels",
        "level is 328 m where the DEM says 100 m; it looks like feet taken for metres",
        "with their unit behind",
    ),
    "bed above ground": (
        drawn(soundings=field(1, bed=120.0)),
        "soundings 'S2'",
        "bed is 120 m where the DEM says",
        "DEM's datum",
    ),
    "far access": (
        drawn(access=field(0, geometry=at(30_000, 0))),
        "access",
        "29,400 m from the river",
        "CRS of its file",
    ),
    "far layer": (
        drawn(
            trees=lambda _: [{"geometry": at(5_000 + 10 * i, 0), "height": 3.0} for i in range(5)]
        ),
        "trees",
        "5 of 5 features lie 4,400 m or more from the river",
        "CRS of its file",
    ),
    "same run name": (
        drawn(runs=field(1, name=" bar  RUN ")),
        "runs",
        "is also that of runs 'Bar run' (feature 1",
        "Name the two apart",
    ),
    "nameless run": (drawn(runs=field(0, name="")), "runs (feature 1", "no name", "Give the run"),
    # DEM
    "half a DEM": (
        dem(x1=200.0),
        "DEM",
        "covers 34% of the river line; none of it at 205 m to 600 m",
        "Add the missing tiles",
    ),
    "DEM elsewhere": (dem(x0=5_000, x1=5_600), "DEM", "none of the river line", "Check its CRS"),
    "DEM without CRS": (dem(crs=None), "DEM dem.tif", "does not say its CRS", "Give it its CRS"),
    "DEM in feet by fall": (
        dem(factor=1 / 0.3048),
        "DEM",
        "falls 3.9 m, reach.toml says 1.2 m",
        "height_unit under [dem] (it looks like feet taken for metres)",
    ),
    "DEM in feet by rise": (
        lambda folder: (
            make(folder, made={**rows(), "banks": [{**b, "rise": 3.0} for b in rows()["banks"]]}),
            write_dem(folder / "dem.tif", factor=1 / 0.3048),
        ),
        "DEM",
        "times what you drew",
        "feet taken for metres",
    ),
    "DEM says feet": (
        dem(unit="US survey foot", factor=1 / 0.3048),
        "DEM dem.tif",
        "its heights are in feet",
        'height_unit = "m"',
    ),
    "DEM much too steep": (dem(slope=0.02), "DEM", "falls 12 m", "Correct slope"),
    "other datum": (
        lambda folder: (
            make(folder, toml=TOML.replace('height_unit = "m"', 'datum = "CGVD28"'), dem=False),
            write_dem(folder / "dem.tif", crs="EPSG:6339+5703"),
        ),
        "DEM",
        "'North American Vertical Datum 1988'",
        "[dem] says 'CGVD28'",
    ),
    "gauge of another datum": (
        lambda folder: make(
            folder,
            toml=TOML.replace('height_unit = "m"', 'datum = "NAVD88"')
            + '[gauge]\ndatum = "NGVD29"\n',
        ),
        "reach.toml",
        "[dem] says datum 'NAVD88', [gauge] says 'NGVD29'",
        "Give the gauge's zero in the DEM's datum",
    ),
    # gauge
    "flows beyond the rating": (
        told("list = [20, 30, 45]", "list = [5, 30, 400]"),
        "flows",
        "5 m3/s, 400 m3/s outside the gauge's rating, 10 m3/s to 150 m3/s",
        "beyond it nobody has measured",
    ),
    "flows in cfs": (
        told("list = [20, 30, 45]", "list = [700, 1200]"),
        "flows",
        "outside the gauge's rating",
        "meant in cfs?",
    ),
    "traced flow in cfs": (
        told("traced_flow = 30", "traced_flow = 1000"),
        "traced_flow",
        "far outside the gauge's rating",
        "meant in cfs?",
    ),
    "zero in feet": (
        lambda folder: make(folder, toml=TOML + "[gauge]\nzero = 325\n"),
        "[gauge] zero",
        "the gauge's zero is 325 m, the river in the DEM runs from 100 m to 99 m",
        "DEM's datum",
    ),
    "falling rating": (
        fed("stage_m,flow_m3s\n0.5,10\n0.9,8\n1.2,30\n"),
        "gauge file rating.csv",
        "flow falls as the stage rises, at its point 2",
        "Correct its rows",
    ),
    "two ratings": (
        fed("stage_m,flow_m3s\n0.5,10\n0.9,80\n", "second.csv"),
        "gauge file rating.csv and second.csv",
        "each holds a rating",
        "Keep the one in force",
    ),
    "strange gauge file": (fed("hello\nthere\n"), "rating.csv", "'hello'", "flow_cfs"),
    "empty gauge file": (fed(""), "gauge file rating.csv", "it is empty", "Fetch it again"),
}


@pytest.mark.parametrize("case", CASES, ids=list(CASES))
def test_a_spoilt_folder_gives_its_message(case, tmp_path):
    spoil, where, found, fix = CASES[case]
    spoil(tmp_path / "reach")
    faults = faults_of(tmp_path / "reach")
    fits = [one for one in faults if where in one.where and found in one.found and fix in one.fix]
    assert len(fits) == 1, "\n".join(map(str, faults))


def test_an_unspoilt_folder_reads_well(tmp_path):
    markup = open_reach(make(tmp_path / "reach"))
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
        open_reach(tmp_path)
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
    asked = read_plan("")
    empty = Drawing(crs="", asked=asked, features=no_features())
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
    markup = open_reach(make(tmp_path, made=made))
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
    markup = open_reach(make(tmp_path, made=made, dem=False))
    assert len(markup.banks) == 2


def test_hostile_and_long_text_stays_text(tmp_path):
    evil = '<script>alert(1)</script> {{ 7*7 }} \u202e"quoted" ' + "x" * 10_000
    made = rows()
    made["runs"][0]["name"] = evil
    made["banks"][0]["note"] = evil
    made["hazards"][0]["note"] = "=cmd|' /C calc'!A0"
    markup = open_reach(make(tmp_path, made=made))
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
    tree = open_reach(tmp_path).trees[0]
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
    drawing = Drawing(crs="", asked=read_plan(""), features=no_features())
    assert replace(drawing, crs=CRS).crs == CRS
    assert drawing.crs == ""
