"""Places in words, for faults: coordinates, and distance along the river."""

from __future__ import annotations

import numpy as np
from shapely import LineString, Point

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.units import LENGTH, from_si
from reachmap.base.words import UnitSystem


def place_words(x: float, y: float, crs: str) -> str:
    """Return a place as latitude and longitude, to about a metre.

    Parameters
    ----------
    x, y
        Coordinates in `crs`; any.
    """
    try:
        lon, lat = transform_points(np.array([x]), np.array([y]), crs, WGS84)
    except ValueError:
        lon = lat = np.array([np.nan])
    if not (np.isfinite(lon[0]) and np.isfinite(lat[0])):
        return f"x {x:.0f}, y {y:.0f}"
    return f"latitude {lat[0]:.5f}, longitude {lon[0]:.5f}"


def along_words(line: LineString, place: Point, units: UnitSystem) -> str:
    """Return a place as its distance down the river line."""
    return f"{length_words(line.project(place), units)} down the river line"


def length_words(length: float, units: UnitSystem) -> str:
    """Return a length [m] in the folder's units, rounded for speech."""
    unit = LENGTH[units]
    value = from_si(length, unit)
    number = f"{value:,.0f}" if abs(value) >= 10 else f"{value:.1f}"
    return f"{number} {unit}"
