"""Wetted area and edges of one flow as layers."""

from __future__ import annotations

import geopandas as gpd
import xarray as xr

from reachmap.base.schema import layer_frame
from reachmap.flow.wet_edge import edge_lines, wet_polygons


def edge_layers(ground: xr.Dataset, flow: xr.Dataset) -> dict[str, gpd.GeoDataFrame]:
    """Return the layers `wetted`, `edge_left` and `edge_right` of one flow.

    Parameters
    ----------
    ground
        The ground stage's Dataset (y, x).
    flow
        The flow stage's Dataset with one flow.
    """
    here = flow.isel(flow=0)
    base = {"flow": float(here["flow"]), "flow_label": str(here["asked"].item())}
    crs = str(ground.attrs["crs"])
    areas = wet_polygons(here, ground)
    lines = dict(
        zip(("edge_left", "edge_right"), edge_lines(here, ground, polygons=areas), strict=True)
    )
    layers = {
        "wetted": layer_frame(
            "wetted", [base | {"area_m2": a.area, "geometry": a} for a in areas], crs
        )
    }
    for name, found in lines.items():
        rows = [base | {"length_m": line.length, "geometry": line} for line in found]
        layers[name] = layer_frame(name, rows, crs)
    return layers
