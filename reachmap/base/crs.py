"""One metric CRS inside, WGS84 outside; the only module that imports pyproj."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from reachmap.base.arrays import FloatArray

WGS84 = "EPSG:4326"
WEB_MERCATOR = "EPSG:3857"


def metric_crs(longitude: float, latitude: float) -> str:
    """Return the UTM zone of a place as an EPSG string.

    Parameters
    ----------
    longitude, latitude
        WGS84 [degrees], -180 to 180 and -80 to 84.

    Raises
    ------
    ValueError
        If the place lies outside the zones of UTM.

    Examples
    --------
    >>> metric_crs(-141.3, 46.2)
    'EPSG:32607'
    """
    if not (-180 <= longitude <= 180 and -80 <= latitude <= 84):
        msg = f"longitude {longitude:g}, latitude {latitude:g} is outside UTM"
        raise ValueError(msg)
    zone = min(int((longitude + 180) // 6) + 1, 60)
    return f"EPSG:{(32600 if latitude >= 0 else 32700) + zone}"


def is_known_crs(text: str) -> bool:
    """Return whether `text` names a CRS."""
    try:
        CRS.from_user_input(text)
    except CRSError:
        return False
    return True


def is_placed(text: str) -> bool:
    """Return whether a CRS is tied to the Earth; a local engineering CRS is not.

    Parameters
    ----------
    text
        A known CRS, as an EPSG string or WKT.
    """
    try:
        Transformer.from_crs(CRS.from_user_input(text), WGS84, always_xy=True)
    except (CRSError, ProjError):
        return False
    return True


def is_metric(text: str) -> bool:
    """Return whether a CRS is projected with metres on both axes."""
    crs = CRS.from_user_input(text)
    return crs.is_projected and all(axis.unit_name == "metre" for axis in crs.axis_info)


def grid_mapping(text: str) -> dict[str, object]:
    """Return the attributes of a CF grid mapping variable for a CRS, its WKT among them."""
    return dict(CRS.from_user_input(text).to_cf())


def inside(frame: gpd.GeoDataFrame, crs: str) -> gpd.GeoDataFrame:
    """Return a layer in the project's metric CRS; it must carry a CRS of its own."""
    return frame.to_crs(crs)


def outside(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return a layer in WGS84 longitude and latitude."""
    return frame.to_crs(WGS84)


def transform_points(
    x: FloatArray, y: FloatArray, source: str, target: str
) -> tuple[FloatArray, FloatArray]:
    """Return coordinates moved from one CRS to another, always x (east) before y (north).

    Raises
    ------
    ValueError
        If the points cannot be carried over.
    """
    try:
        moved = Transformer.from_crs(source, target, always_xy=True).transform(x, y)
    except ProjError as error:
        msg = f"cannot go from {source} to {target}"
        raise ValueError(msg) from error
    return np.asarray(moved[0], dtype=np.float64), np.asarray(moved[1], dtype=np.float64)


def height_unit_m(text: str) -> float:
    """Return the size of a CRS's unit of height [m]: its vertical part's, else its plane's.

    For files whose three coordinates share a unit unless they state another, as lidar points do; a
    CRS in degrees without a vertical part counts in metres.

    Examples
    --------
    >>> height_unit_m("EPSG:6339"), round(height_unit_m("EPSG:2285"), 6)
    (1.0, 0.304801)
    """
    unit = vertical_frame(text)[1]
    crs = CRS.from_user_input(text)
    if math.isnan(unit):
        flat = crs.axis_info or crs.sub_crs_list[0].axis_info
        unit = float(flat[0].unit_conversion_factor) if crs.is_projected else 1.0
    return unit


def vertical_frame(text: str) -> tuple[str, float]:
    """Return the name of a compound CRS's vertical datum and the size of its unit of height [m].

    "" and NaN where the CRS has no vertical part.

    Examples
    --------
    >>> vertical_frame("EPSG:6339+5703")[0]
    'North American Vertical Datum 1988'
    """
    for part in CRS.from_user_input(text).sub_crs_list:
        if part.is_vertical:
            datum = part.datum.name if part.datum is not None else part.name
            return datum, float(part.axis_info[0].unit_conversion_factor)
    return "", math.nan
