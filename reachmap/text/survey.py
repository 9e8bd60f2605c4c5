"""Sentences on the places where one note would help most."""

from __future__ import annotations

from typing import Any

import geopandas as gpd

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import transform_points
from reachmap.base.units import LENGTH, from_si
from reachmap.base.words import UnitSystem

WGS84 = "EPSG:4326"


def survey_lines(asks: gpd.GeoDataFrame, crs: str, units: UnitSystem, *, built: bool) -> list[str]:
    """Return the places where a note helps most as lines.

    Parameters
    ----------
    asks
        The layer of that name.
    crs
        Its CRS.
    units
        Units shown.
    built
        Whether it is from a build; else by the preview.
    """
    if asks.empty:
        return []
    by = "from your last build" if built else "by the quick preview"
    lines = [
        f"One note at each of these would sharpen the map most ({by}). Measure the depth there and "
        "note the river's flow:"
    ]
    places: FloatArray = asks.geometry.get_coordinates().to_numpy()
    east, north = transform_points(places[:, 0], places[:, 1], crs, WGS84)
    for row, x, y in zip(asks.itertuples(), east, north, strict=True):
        at = _length(float(row.station_m), units)
        side = "left" if row.offset_m >= 0 else "right"
        across = _length(abs(float(row.offset_m)), units)
        place = f"  {row.code:<3}  {y:.6f}, {x:.6f}  {at} down the line, {across} to river {side}"
        lines.append(f"{place}: {_worth(row, units)}")
    return lines


def _worth(row: Any, units: UnitSystem) -> str:
    """Return what a note at a place is worth."""
    if row.kind != "sounding":
        return str(row.note)
    unit = LENGTH[units]
    off = from_si(float(row.spread_m), unit)
    return f"the map may be out by {off:.1f} {unit}; takes away {100 * row.gain:.0f} % of the doubt"


def _length(metres: float, units: UnitSystem) -> str:
    """Return a length in the folder's units."""
    unit = LENGTH[units]
    return f"{from_si(metres, unit):.0f} {unit}"
