"""Places worth a note, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import geopandas as gpd

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import WGS84, transform_points
from reachmap.base.units import LENGTH, from_si
from reachmap.base.words import NoteKind, UnitSystem


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
        lines.append(f"{place}: {ask_worth(row._asdict(), units)}")
    return lines


def ask_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return what to do at a row of the layer `asks`."""
    if row["kind"] == NoteKind.EDGE:
        return (
            "Mark where the water's edge stands here, on both banks, at a flow higher than the one "
            "you traced, and note that flow (layer edges)."
        )
    off, share = _worth(row, units)
    return (
        "Measure the depth here and note the river's flow (layer soundings, or the log of your "
        f"trip). The map may be out by {off} either way; this one note takes away {share} of the "
        "doubt in the water worth fishing."
    )


def ask_worth(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return what a note at a place is worth, for a list of places to sound."""
    if row["kind"] != NoteKind.SOUNDING:
        return ask_note(row, units)
    off, share = _worth(row, units)
    return f"the map may be out by {off}; takes away {share} of the doubt"


def _worth(row: Mapping[str, Any], units: UnitSystem) -> tuple[str, str]:
    """Return the doubt of the depth, and the share of the doubt that a note takes away."""
    unit = LENGTH[units]
    return f"{from_si(float(row['spread_m']), unit):.1f} {unit}", f"{100 * row['gain']:.0f} %"


def _length(metres: float, units: UnitSystem) -> str:
    """Return a length in the folder's units."""
    unit = LENGTH[units]
    return f"{from_si(metres, unit):.0f} {unit}"
