"""Answers in the documented shapes (data/README.md), for a box that has everything."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from rasterio.io import MemoryFile
from rasterio.transform import from_bounds

from reachmap.base.crs import transform_points
from reachmap.online.box import Box
from reachmap.online.find import Search, chosen, find
from tests.online.services import Answer, Asked, Services

DATA = Path(__file__).parent / "data"
GAUGE_DATA = Path(__file__).resolve().parents[1] / "gauge" / "data"

BOX = Box(-89.54, 43.10, -89.49, 43.12)
"""Within the recorded river line."""

ELEVATION = "elevation.nationalmap.gov"
INDEX = "api.water.usgs.gov"
WATER = "api.waterdata.usgs.gov"
FORECASTS = "api.water.noaa.gov"
CATALOGUE = "stac.example"
FILES = "files.example"

NONE = -3.4028235e38


def height_raster(asked: Asked, *, empty: bool = False) -> Answer:
    """What exportImage sends: single floats in web mercator, as large as was asked for."""
    west, south, east, north = (float(one) for one in asked.query["bbox"][0].split(","))
    wide, high = (int(one) for one in asked.query["size"][0].split(","))
    (left, right), (low, top) = transform_points(
        np.array([west, east]), np.array([south, north]), "EPSG:4326", "EPSG:3857"
    )
    heights = np.full((high, wide), NONE if empty else 0, dtype=np.float32)
    if not empty:
        heights += 250 + np.linspace(4, 0, wide, dtype=np.float32)
    shape = {
        "driver": "GTiff", "width": wide, "height": high, "count": 1, "dtype": "float32",
        "crs": "EPSG:3857", "transform": from_bounds(left, low, right, top, wide, high),
        "nodata": NONE,
    }  # fmt: skip
    with MemoryFile() as file:
        with file.open(**shape) as made:
            made.write(heights, 1)
        return Answer(file.read(), "image/tiff")


def as_json(told: object) -> Answer:
    return Answer(json.dumps(told).encode())


def recorded(name: str) -> Answer:
    return Answer((DATA / name).read_bytes())


def gauges(*, empty: bool = False) -> Answer:
    """The collection combined-metadata, its one station of the recorded answer measuring flow."""
    told = json.loads((DATA / "combined_metadata.json").read_text(encoding="utf-8"))
    if empty:
        told |= {"features": [], "numberReturned": 0}
    return as_json(told)


def readings() -> Answer:
    """The collection continuous, its recorded readings called flow."""
    told = json.loads((GAUGE_DATA / "continuous.json").read_text(encoding="utf-8"))
    for one in told["features"]:
        one["properties"] |= {"parameter_code": "00060", "unit_of_measure": "ft^3/s"}
    return as_json(told)


def forecast_points(_asked: Asked) -> Answer:
    gauge = {
        "lid": "FIHM1", "name": "A River at the Bridge", "latitude": 43.15, "longitude": -89.5,
        "pedts": {"observed": "HGIRG", "forecast": "HGIFF"},
        "status": {"forecast": {"primary": 4.63, "primaryUnit": "ft", "secondary": 1.5,
                   "secondaryUnit": "kcfs", "floodCategory": "no_flooding",
                   "validTime": "2024-03-28T18:00:00Z"}},
    }  # fmt: skip
    quiet = {**gauge, "lid": "QUIE1", "status": {"forecast": {"floodCategory": "fcst_not_current"}}}
    return as_json({"gauges": [quiet, gauge]})


def landing(_asked: Asked) -> Answer:
    root = f"https://{CATALOGUE}/"
    return as_json(
        {
            "type": "Catalog", "stac_version": "1.0.0", "id": "made", "description": "made",
            "conformsTo": [
                "https://api.stacspec.org/v1.0.0/core",
                "https://api.stacspec.org/v1.0.0/item-search",
                "https://api.stacspec.org/v1.0.0/collections",
            ],
            "links": [
                {"rel": "self", "href": root, "type": "application/json"},
                {"rel": "root", "href": root, "type": "application/json"},
                {"rel": "data", "href": f"{root}collections", "type": "application/json"},
                {"rel": "search", "href": f"{root}search", "type": "application/geo+json",
                 "method": "POST"},
                {"rel": "search", "href": f"{root}search", "type": "application/geo+json",
                 "method": "GET"},
            ],
        }
    )  # fmt: skip


def collection(_asked: Asked) -> Answer:
    root = f"https://{CATALOGUE}/"
    return as_json(
        {
            "type": "Collection", "stac_version": "1.0.0", "id": "lidar", "description": "made",
            "license": "CC-BY-4.0", "links": [{"rel": "root", "href": root}],
            "extent": {"spatial": {"bbox": [[-180, -90, 180, 90]]},
                       "temporal": {"interval": [["2021-01-01T00:00:00Z", None]]}},
        }
    )  # fmt: skip


def item(name: str, assets: dict, **properties) -> dict:
    return {
        "type": "Feature", "stac_version": "1.0.0", "id": name, "collection": "lidar",
        "bbox": list(BOX.bounds), "links": [],
        "geometry": {"type": "Polygon", "coordinates": [[
            [BOX.west, BOX.south], [BOX.east, BOX.south], [BOX.east, BOX.north],
            [BOX.west, BOX.north], [BOX.west, BOX.south]]]},
        "properties": {"datetime": "2022-08-14T18:00:00Z", **properties}, "assets": assets,
    }  # fmt: skip


def items(_asked: Asked) -> Answer:
    tiff = "image/tiff; application=geotiff; profile=cloud-optimized"
    compound = {"type": "CompoundCRS", "components": [
        {"type": "ProjectedCRS", "name": "NAD83 / UTM zone 16N"},
        {"type": "VerticalCRS", "name": "CGVD2013(CGG2013) height"}]}  # fmt: skip
    made = [
        item("t_12", {
            "dtm": {"href": f"https://{FILES}/t_12_dtm.tif", "type": tiff, "file:size": 700_000,
                    "raster:bands": [{"data_type": "float32", "spatial_resolution": 1.0}],
                    "proj:projjson": compound},
            "dsm": {"href": f"https://{FILES}/t_12_dsm.tif", "type": tiff},
            "thumb": {"href": f"https://{FILES}/t.png", "type": "image/png",
                      "roles": ["thumbnail"]},
            "secret": {"href": "s3://bucket/t.tif", "type": tiff},
        }, gsd=1.0),
        item("photo 7", {"visual": {"href": f"https://{FILES}/photo.tif", "type": tiff,
                                    "eo:bands": [{}, {}, {}]}},
             datetime=None, start_datetime="2020-05-01T00:00:00Z",
             end_datetime="2020-05-03T00:00:00Z", gsd=0.2, license="CC0-1.0"),
    ]  # fmt: skip
    return as_json({"type": "FeatureCollection", "features": made, "links": []})


TILE = bytes(range(256)) * 4000
"""A file of the catalogue: what is in it does not matter to its fetching."""


def everything(services: Services) -> None:
    """Give every service its recorded answer."""
    services.answers |= {
        ELEVATION: height_raster,
        f"{INDEX}/nldi/linked-data/comid/position": lambda _: recorded(
            "nldi_get_features_by_lat_long.json"
        ),
        f"{INDEX}/nldi/linked-data/comid/13294314/navigation/UM": lambda _: recorded(
            "nldi_get_flowlines_by_comid.json"
        ),
        f"{INDEX}/nldi/linked-data/comid/13294314/navigation/DM": lambda _: as_json(
            {"type": "FeatureCollection", "features": []}
        ),
        f"{WATER}/ogcapi/v1/collections/combined-metadata": lambda _: gauges(),
        f"{WATER}/ogcapi/v1/collections/continuous": lambda _: readings(),
        f"{WATER}/stac": lambda _: as_json({"type": "FeatureCollection", "features": []}),
        f"{FORECASTS}/nwps/v1/gauges": forecast_points,
        f"{FORECASTS}/nwps/v1/gauges/FIHM1/stageflow": lambda _: Answer(
            (GAUGE_DATA / "stageflow.json").read_bytes()
        ),
        CATALOGUE: landing,
        f"{CATALOGUE}/collections/lidar": collection,
        f"{CATALOGUE}/search": items,
        FILES: lambda _: Answer(TILE, "image/tiff", mark='"one"'),
    }


WHEN = datetime(2025, 9, 23, tzinfo=UTC)
ADDRESS = f"https://{CATALOGUE}/"
HERE = Search(BOX, ADDRESS)


def offered(services, name):
    [offer] = chosen(find(HERE), [name])
    services.asked.clear()
    return offer
