"""The registers of fields and layers refuse what was not promised."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import Point

from reachmap.base.cache import write_layers
from reachmap.base.fields import FIELDS, check_fields
from reachmap.base.schema import BY_NAME, LAYERS, as_promised, layer_frame
from tests.made import CRS, made_flows, made_ground


def test_a_missing_field_is_named():
    with pytest.raises(ValueError, match="missing bed"):
        check_fields(made_ground().drop_vars("bed"), "ground")


def test_a_field_nobody_promised_is_named():
    ground = made_ground()
    ground["hunch"] = ground["bed"]
    with pytest.raises(ValueError, match="not promised: hunch"):
        check_fields(ground, "ground")


def test_a_value_out_of_range_is_named():
    ground = made_ground()
    flows = made_flows(ground, {20.0: -0.5})
    flows["depth"][0, 40, 100] = 400.0
    with pytest.raises(ValueError, match=r"depth runs .* 400, wants 0 to 60"):
        check_fields(flows, "flow")


def test_swapped_dims_are_named():
    ground = made_ground()
    ground["bed"] = ground["bed"].transpose()
    with pytest.raises(ValueError, match="bed has dims"):
        check_fields(ground, "ground")


def test_units_are_stamped_on():
    assert made_ground()["roughness"].attrs["units"] == "s/m^(1/3)"


def test_unknown_passes_the_check():
    ground = made_ground()
    ground["bed"][:] = np.nan
    check_fields(ground, "ground")


def test_an_empty_layer_knows_its_columns():
    for layer in LAYERS:
        frame = layer_frame(layer.name, [], CRS)
        assert [c for c in frame.columns if c != "geometry"] == [c.name for c in layer.columns]
        assert frame.crs == CRS


def bar(**other):
    """Return a row of the layer `bars`."""
    row = {"flow": 1.0, "flow_label": "a", "code": "I1", "area_m2": 9.0, "station_m": 5.0}
    return row | {"on_foot": True, "height_m": 0.4, "geometry": Point(0, 0).buffer(3)} | other


def test_a_row_with_other_columns_is_refused():
    with pytest.raises(ValueError, match="hunch"):
        layer_frame("bars", [bar(hunch=1.0)], CRS)
    lacking = bar()
    del lacking["height_m"]
    with pytest.raises(ValueError, match="height_m"):
        layer_frame("bars", [lacking], CRS)


@pytest.mark.parametrize(
    ("name", "value", "fault"),
    [
        ("flow", -1.0, "flow holds -1"),
        ("area_m2", "wide", "area_m2"),
        ("on_foot", "maybe", "on_foot"),
    ],
)
def test_a_cell_that_is_not_what_it_should_be_is_named(name, value, fault):
    with pytest.raises(ValueError, match=fault):
        layer_frame("bars", [bar(), bar(**{name: value})], CRS)


def test_a_word_that_is_not_allowed_or_missing_is_named():
    row = {"run": "a", "named_by": "angler", "side": None, "station_m": 0.0, "extent_m": 9.0}
    row |= {"best_flow_m3_s": 3.0, "geometry": Point(0, 0).buffer(3)}
    runs = layer_frame("runs", [row], CRS)
    assert runs["side"].isna().all()
    with pytest.raises(ValueError, match="middle"):
        layer_frame("runs", [row | {"side": "middle"}], CRS)
    with pytest.raises(ValueError, match="named_by has missing words"):
        layer_frame("runs", [row | {"named_by": None}], CRS)


def test_what_a_file_gives_back_is_what_was_promised(tmp_path):
    rows = [bar(), bar(on_foot=False, cut_off_m3_s=4.0, open_until_m3_s=2.0)]
    frame = layer_frame("bars", rows, CRS)
    write_layers(tmp_path / "a.gpkg", {"bars": frame})
    read = as_promised("bars", gpd.read_file(tmp_path / "a.gpkg", layer="bars"))
    assert list(read.dtypes) == list(frame.dtypes)
    pd.testing.assert_frame_equal(
        pd.DataFrame(read.drop(columns="geometry")), pd.DataFrame(frame.drop(columns="geometry"))
    )


def test_every_column_says_what_it_is():
    for layer in BY_NAME.values():
        names = [column.name for column in (*layer.columns, *layer.written)]
        assert len(names) == len(set(names))
        for column in (*layer.columns, *layer.written):
            assert column.meaning.endswith(".")
            assert bool(column.unit) == (column.dtype in ("float", "int"))


def test_every_name_is_there_once():
    names = [field.name for field in FIELDS]
    assert len(names) == len(set(names))
