"""The registers of fields and layers refuse what was not promised."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point

from reachmap.base.fields import FIELDS, check_fields
from reachmap.base.tables import LAYERS, layer_frame
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


def test_a_row_with_other_columns_is_refused():
    row = {"flow": 1.0, "flow_label": "a", "grade": "easy", "area_m2": 1.0, "geometry": Point(0, 0)}
    with pytest.raises(ValueError, match="note"):
        layer_frame("wading", [row], CRS)


def test_every_name_is_there_once():
    names = [field.name for field in FIELDS]
    assert len(names) == len(set(names))
