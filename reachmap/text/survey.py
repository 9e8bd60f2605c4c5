"""Survey suggestions (the layer `asks`) in sentences: where one note would help most."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import geopandas as gpd

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import WGS84, transform_points
from reachmap.base.language import tr
from reachmap.base.units import LENGTH, flow_words, from_si
from reachmap.base.words import Side, SurveyKind, SurveyWay, UnitSystem
from reachmap.text.fit import cover_words
from reachmap.text.terms import SIDES
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
    by = tr("from your last build") if built else tr("by the quick preview")
    lines = [
        tr(
            "One note at each of these would sharpen the map most ({by}), A1 the most. In the "
            "order "
            "to go, each note with the river's flow:",
            by=by,
        )
    ]
    suggestions = suggestions.sort_values("order")
    places: FloatArray = suggestions.geometry.get_coordinates().to_numpy()
    east, north = transform_points(places[:, 0], places[:, 1], crs, WGS84)
    heading = ""
    for row, x, y in zip(suggestions.itertuples(), east, north, strict=True):
        if heading != (heading := way_words(row._asdict(), units)):
            lines.append(f"  {heading}:")
        at = _length(float(row.station_m), units)
        side = tr(SIDES[Side.LEFT if row.offset_m >= 0 else Side.RIGHT])
        across = _length(abs(float(row.offset_m)), units)
        place = tr(
            "    {code}  {y}, {x}  {at} down the line, {across} to {side}",
            code=f"{row.code:<3}",
            y=f"{y:.6f}",
            x=f"{x:.6f}",
            at=at,
            across=across,
            side=side,
        )
        lines.append(f"{place}: {survey_worth(row._asdict(), units)}")
    return lines


def survey_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the instruction for a row of the layer `asks`."""
    if row["kind"] == SurveyKind.EDGE:
        return tr(
            "Mark where the water's edge stands here, on both banks, at a flow higher than the one "
            "you traced, and note that flow (layer edges)."
        )
    if row["kind"] == SurveyKind.STICK:
        return tr(
            "Time a stick over ten steps or more of this water, from the bank, when the river runs "
            "about {flow}, and note speed and flow (layer "
            "speeds). It tells how rough {rough} is, and takes away {share} of the "
            "doubt in the water worth fishing.",
            flow=flow_words(float(row["flow_m3_s"]), units),
            rough=_rough(row),
            share=_share(row),
        )
    off = _off(row, units)
    return tr(
        "Measure the depth here and note the river's flow (layer soundings, or the log of your "
        "trip). The map may be out by {off} either way; this one note takes away {share} of "
        "the doubt in the water worth fishing. {way}.",
        off=off,
        share=_share(row),
        way=way_words(row, units),
    )


def way_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return how to get to a place of the layer `asks`, without a full stop."""
    if row["way"] == SurveyWay.FOOT:
        return tr(
            "On foot from {side}, where the map lets you wade that day",
            side=tr(SIDES[str(row["side"])]),
        )
    if row["way"] == SurveyWay.BOAT:
        return tr("Too deep, too fast or too little known to wade: by boat, or leave it")
    if row["kind"] == SurveyKind.STICK:
        flow = flow_words(float(row["flow_m3_s"]), units)
        return tr(
            "From the bank, {side}, at about {flow}", side=tr(SIDES[str(row["side"])]), flow=flow
        )
    return tr("From the banks, at a higher flow")


def survey_worth(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return what to measure at a place and its gain, for a list of places."""
    if row["kind"] == SurveyKind.EDGE:
        return survey_note(row, units)
    share = tr("takes away {share} of the doubt", share=_share(row))
    if row["kind"] == SurveyKind.STICK:
        return tr("time a stick over {rough}; it {share}", rough=_rough(row), share=share)
    return tr(
        "measure the depth: the map may be out by {off}; it {share}",
        off=_off(row, units),
        share=share,
    )


def _rough(row: Mapping[str, Any]) -> str:
    """Return the class of cover whose roughness a timed stick measures."""
    name = str(row["cover"])
    return (
        tr("the river's bed")
        if name == OPEN
        else tr("{cover} under water", cover=cover_words([name]))
    )


def _off(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the standard deviation of the depth."""
    unit = LENGTH[units]
    return f"{from_si(float(row['spread_m']), unit):.1f} {unit}"


def _share(row: Mapping[str, Any]) -> str:
    """Return the share of the uncertainty that a note removes."""
    percent = 100 * float(row["gain"])
    return f"{percent:.0f} %" if percent >= 1 else tr("less than 1 %")


def _length(metres: float, units: UnitSystem) -> str:
    """Return a length in the folder's units."""
    unit = LENGTH[units]
    return f"{from_si(metres, unit):.0f} {unit}"
