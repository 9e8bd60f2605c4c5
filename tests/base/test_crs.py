"""Zones, axes and the way there and back."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from shapely import Point

from reachmap.base import crs


@given(longitude=st.floats(-179.9, 179.9), latitude=st.floats(-79, 83))
def test_the_zone_is_one_that_the_register_lists_for_the_place(longitude, latitude):
    # EPSG register as shipped with PROJ, asked through pyproj; at an edge it lists both neighbours
    longitude, latitude = round(longitude, 6), round(latitude, 6)
    area = AreaOfInterest(longitude, latitude, longitude, latitude)
    listed = {f"EPSG:{info.code}" for info in query_utm_crs_info("WGS 84", area)}
    assert crs.metric_crs(longitude, latitude) in listed


@pytest.mark.parametrize("place", [(0, 85), (0, -81), (181, 0), (float("nan"), 0)])
def test_a_place_outside_utm_is_refused(place):
    with pytest.raises(ValueError, match="outside UTM"):
        crs.metric_crs(*place)


def test_metric_means_projected_in_metres():
    assert crs.is_metric("EPSG:32607")
    assert not crs.is_metric("EPSG:4326")
    assert not crs.is_metric("EPSG:2225")  # US survey feet


def test_known_and_unknown_names():
    assert crs.is_known_crs("EPSG:32607")
    assert not crs.is_known_crs("somewhere")


def test_layers_go_there_and_back():
    frame = gpd.GeoDataFrame(geometry=[Point(-141.3, 46.2)], crs=crs.WGS84)
    back = crs.outside(crs.inside(frame, "EPSG:32607"))
    assert back.geometry[0].distance(frame.geometry[0]) < 1e-9


def test_the_central_meridian_is_half_a_million():
    # definition of UTM: false easting 500 000 m on the central meridian, which is 141 W in zone 7
    x, _ = crs.transform_points(np.array([-141.0]), np.array([46.0]), crs.WGS84, "EPSG:32607")
    assert x[0] == pytest.approx(500_000, abs=1e-6)
