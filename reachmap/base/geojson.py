"""GeoJSON (RFC 7946) as a table, read without a library of drivers: it is plain JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from reachmap.base.crs import WGS84, is_known_crs
from reachmap.base.safe_files import RefusedError

AGAIN = "Export it again as GeoJSON, or take it out"

SHAPES = frozenset(
    (
        *("Point", "LineString", "Polygon", "MultiPoint", "MultiLineString", "MultiPolygon"),
        "GeometryCollection",
    )
)
"""Types of geometry."""


def geojson_table(body: bytes) -> gpd.GeoDataFrame:
    """Return the features of GeoJSON: text, numbers and truth values as columns.

    A geometry that makes no sense is None. The CRS is WGS84, or that which older files name in
    `crs`; an address there is not followed.

    Raises
    ------
    RefusedError
        If it is not GeoJSON.
    """
    try:
        value = json.loads(body.decode("utf-8-sig"), parse_int=_whole)
        features = list(_features(value))
    except UnicodeDecodeError:
        msg = "it is not a text file in UTF-8"
        raise RefusedError(msg, "Save it again as UTF-8") from None
    except (ValueError, RecursionError) as error:
        msg = f"it is not GeoJSON ({str(error)[:120]})"
        raise RefusedError(msg, AGAIN) from None
    shapes = [_shape(each.get("geometry")) for each in features]
    rows = [_row(each.get("properties")) for each in features]
    table = pd.DataFrame(rows, index=range(len(rows))).drop(columns="geometry", errors="ignore")
    return gpd.GeoDataFrame(table, geometry=gpd.GeoSeries(shapes, crs=_crs(value)))


def _whole(text: str) -> int | float:
    """Return a whole number; one of more than 300 digits as infinite."""
    return int(text) if len(text) <= 300 else math.inf


def _features(value: Any) -> Iterator[Mapping[str, Any]]:
    """Yield the features of a collection, of one feature or of a bare geometry."""
    kind = value.get("type") if isinstance(value, dict) else None
    if kind == "FeatureCollection" and isinstance(value.get("features"), list):
        for each in value["features"]:
            yield from _features(each)
    elif kind == "Feature":
        yield value
    elif kind in SHAPES:
        yield {"geometry": value}
    else:
        msg = "no features in it"
        raise ValueError(msg)


def _shape(value: Any) -> BaseGeometry | None:
    """Return a geometry; None where it makes no sense."""
    if not isinstance(value, dict) or value.get("type") not in SHAPES:
        return None
    try:
        return shapely.geometry.shape(value)
    except (*(ValueError, TypeError, KeyError, IndexError), *(AttributeError, ShapelyError)):
        return None
    except (RecursionError, OverflowError):
        return None


def _row(properties: Any) -> dict[str, Any]:
    """Return a feature's properties; lists and objects as their JSON."""
    if not isinstance(properties, dict):
        return {}
    return {
        key: json.dumps(value)[:1000] if isinstance(value, list | dict) else value
        for key, value in properties.items()
    }


def _crs(value: Mapping[str, Any]) -> str | None:
    """Return the CRS a file names, the format's own where it names none; None for an unknown."""
    named = value.get("crs")
    if named is None:
        return WGS84
    inner = named.get("properties") if isinstance(named, dict) else None
    name = str(inner.get("name", "")) if isinstance(inner, dict) else ""
    if name.rsplit(":", 1)[-1] in {"CRS84", "CRS84h"}:
        return WGS84
    plain = name.replace("::", ":")
    return name if plain.upper().startswith(("EPSG:", "URN:OGC:")) and is_known_crs(name) else None
