"""Survey suggestions (the layer `asks`) in sentences: where one note would help most."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import geopandas as gpd

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import WGS84, transform_points
from reachmap.base.units import LENGTH, flow_words, from_si
from reachmap.base.words import SurveyKind, SurveyWay, UnitSystem
from reachmap.text.fit import cover_words
from reachmap.uncertainty.sticks import OPEN


def survey_lines(
    suggestions: gpd.GeoDataFrame, crs: str, units: UnitSystem, *, built: bool
) -> list[str]:
    """Return the places where a note helps most as lines.

    Parameters
    ----------
    suggestions
        The layer `asks`.
    crs
        Its CRS.
    units
        Units shown.
    built
        Whether it is from a build; else by the preview.
    """
    if suggestions.empty:
        return []
    by = "from your last build" if built else "by the quick preview"
    lines = [
        f"One note at each of these would sharpen the map most ({by}), A1 the most. In the order "
        "to go, each note with the river's flow:"
    ]
    suggestions = suggestions.sort_values("order")
    places: FloatArray = suggestions.geometry.get_coordinates().to_numpy()
    east, north = transform_points(places[:, 0], places[:, 1], crs, WGS84)
    heading = ""
    for row, x, y in zip(suggestions.itertuples(), east, north, strict=True):
        if heading != (heading := way_words(row._asdict(), units)):
            lines.append(f"  {heading}:")
        at = _length(float(row.station_m), units)
        side = "left" if row.offset_m >= 0 else "right"
        across = _length(abs(float(row.offset_m)), units)
        place = f"    {row.code:<3}  {y:.6f}, {x:.6f}  {at} down the line, {across} to river {side}"
        lines.append(f"{place}: {survey_worth(row._asdict(), units)}")
    return lines


def survey_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the instruction for a row of the layer `asks`."""
    if row["kind"] == SurveyKind.EDGE:
        return (
            "Mark where the water's edge stands here, on both banks, at a flow higher than the one "
            "you traced, and note that flow (layer edges)."
        )
    if row["kind"] == SurveyKind.STICK:
        return (
            "Time a stick over ten steps or more of this water, from the bank, when the river runs "
            f"about {flow_words(float(row['flow_m3_s']), units)}, and note speed and flow (layer "
            f"speeds). It tells how rough {_rough(row)} is, and takes away {_share(row)} of the "
            "doubt in the water worth fishing."
        )
    off = _off(row, units)
    return (
        "Measure the depth here and note the river's flow (layer soundings, or the log of your "
        f"trip). The map may be out by {off} either way; this one note takes away {_share(row)} of "
        f"the doubt in the water worth fishing. {way_words(row, units)}."
    )


def way_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how to get to a place of the layer `asks`, without a full stop."""
    if row["way"] == SurveyWay.FOOT:
        return f"On foot from river {row['side']}, where the map lets you wade that day"
    if row["way"] == SurveyWay.BOAT:
        return "Too deep, too fast or too little known to wade: by boat, or leave it"
    if row["kind"] == SurveyKind.STICK:
        flow = flow_words(float(row["flow_m3_s"]), units)
        return f"From the bank, river {row['side']}, at about {flow}"
    return "From the banks, at a higher flow"


def survey_worth(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return what to measure at a place and its gain, for a list of places."""
    if row["kind"] == SurveyKind.EDGE:
        return survey_note(row, units)
    share = f"takes away {_share(row)} of the doubt"
    if row["kind"] == SurveyKind.STICK:
        return f"time a stick over {_rough(row)}; it {share}"
    return f"measure the depth: the map may be out by {_off(row, units)}; it {share}"


def _rough(row: Mapping[str, Any]) -> str:
    """Return the class of cover whose roughness a timed stick measures."""
    name = str(row["cover"])
    return "the river's bed" if name == OPEN else f"{cover_words([name])} under water"


def _off(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the standard deviation of the depth."""
    unit = LENGTH[units]
    return f"{from_si(float(row['spread_m']), unit):.1f} {unit}"


def _share(row: Mapping[str, Any]) -> str:
    """Return the share of the uncertainty that a note removes."""
    percent = 100 * float(row["gain"])
    return f"{percent:.0f} %" if percent >= 1 else "less than 1 %"


def _length(metres: float, units: UnitSystem) -> str:
    """Return a length in the folder's units."""
    unit = LENGTH[units]
    return f"{from_si(metres, unit):.0f} {unit}"
