"""A piece of water bears the code of its kind and its stretch of bank."""

import geopandas as gpd
import pandas as pd
from shapely import box

from reachmap.water.codes import codes_of, recoded


def row(kind, stretch, area):
    """Return a row of the water layer as far as its code needs it."""
    return {"kind": kind, "stretch": stretch, "geometry": box(0, 0, area, 1)}


def test_a_code_is_the_kind_s_letter_and_the_stretch_s_number():
    rows = [row("inside_bend", 7, 9), row("soft_edge", 7, 9), row("even_run", 12, 9)]
    assert codes_of(rows) == ["B7", "E7", "G12"]


def test_of_several_of_a_kind_in_a_stretch_the_largest_bears_the_plain_code():
    rows = [row("soft_edge", 7, 5), row("soft_edge", 7, 9), row("soft_edge", 7, 7)]
    assert codes_of(rows) == ["E7c", "E7", "E7b"]


def test_what_lies_elsewhere_changes_no_code():
    alone = [row("soft_edge", 7, 5)]
    more = [row("soft_edge", 1, 50), row("tailout", 7, 50), *alone]
    assert codes_of(more)[-1] == codes_of(alone)[0]


def test_no_code_stands_twice_however_many_there_are():
    codes = codes_of([row("seam", 2, k + 1) for k in range(40)])
    assert len(set(codes)) == 40
    assert max(len(code) for code in codes) <= 5


def test_no_water_has_no_codes():
    assert codes_of([]) == []


def test_where_a_piece_becomes_another_kind_its_code_and_what_names_it_change_with_it():
    water = gpd.GeoDataFrame(
        {
            "flow_label": ["10", "10", "20"],
            "kind": ["soft_edge", "soft_edge", "seam"],
            "stretch": [7, 7, 7],
            "code": ["S7", "E7", "S7"],
        },
        geometry=[box(0, 0, 5, 1), box(0, 0, 9, 1), box(0, 0, 4, 1)],
    )
    stands = pd.DataFrame(
        {
            "flow_label": ["10", "10", "20"],
            "water": ["S7", "E7", "S7"],
            "code": ["S7-1", "E7-2", "S7-1"],
        }
    )
    near = stands.drop(columns="code")
    found = recoded({"water": water, "stations": stands, "hazards_near": near, "seams": near})
    assert list(found["water"]["code"]) == ["E7b", "E7", "S7"]
    assert list(found["stations"]["code"]) == ["E7b-1", "E7-2", "S7-1"]
    assert list(found["stations"]["water"]) == ["E7b", "E7", "S7"]
    assert list(found["hazards_near"]["water"]) == ["E7b", "E7", "S7"]
    assert list(stands["code"]) == ["S7-1", "E7-2", "S7-1"]
