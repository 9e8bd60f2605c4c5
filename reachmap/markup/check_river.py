"""Checks of the river line: present, in one piece, drawn downstream; its slope; side channels."""

from __future__ import annotations

import math

import numpy as np
from shapely import LineString, Point

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.base.trend import median_slope
from reachmap.base.words import Part
from reachmap.markup.drawing import Drawing
from reachmap.markup.features import Feature
from reachmap.markup.files import MARKUP_STEM
from reachmap.markup.layers import LAYER_FIELDS, REQUIRED
from reachmap.markup.outlines import crossing_place
from reachmap.markup.places import length_words, place_words

LENGTH_LIMITS = (100.0, 150_000.0)
"""Limits of the main line's length, beyond which unit or CRS is wrong [m] (our choice)."""

LEAST_RISE = 0.3
"""Least rise along the line taken as drawn upstream [m] (our choice, 0.1-1)."""

LEAST_RISE_SLOPE = 1e-4
"""The same as a slope, so that a long flat reach is not judged by noise (our choice)."""

FEWEST_HEIGHTS = 10
"""Fewest heights along the line for judging its direction (our choice)."""

SAME_FLOW = 0.05
"""Relative difference within which flows count as equal when levels are compared (our choice)."""

SLACK = 20.0
"""Tolerance of a side channel's ends along the main line [m] (our choice)."""

DEM_WITNESS = "the DEM's heights"
OR_ACCEPT = (
    ". If it does already, say how the river falls (slope under [river], or levels) and that the "
    'DEM stands all the same: [evidence] accept = ["dem"], or below_water = true under [dem] '
    "where it knows the bed"
)
"""Remedy where a bed rises along a reach, or a terrain model is tilted."""

NEAR_MAIN = 250.0
"""A side line with both ends within this of the main line is a channel, no tributary [m]."""


def missing_layers(drawing: Drawing) -> list[Fault]:
    """Return a fault for each required layer without a feature."""
    faults = []
    for name in REQUIRED:
        if drawing.features[name]:
            continue
        kinds = f"{name}.geojson, {name}.kml or {name}.gpx"
        meaning = LAYER_FIELDS[name].meaning
        fix = f"Draw it as a layer of {MARKUP_STEM}.gpkg, or add a file such as {kinds}. {meaning}"
        faults.append(Fault(name, "nothing is drawn on this layer", fix.rstrip(".")))
    return faults


def one_main_line(drawing: Drawing) -> list[Fault]:
    """Return a fault where the main line is missing or in pieces."""
    mains = drawing.mains
    if len(mains) == 1:
        return []
    if not mains:
        drawn = drawing.features["river"]
        whole = [one for one in drawn if one.shape is not None and one.values["part"] is not None]
        if len(whole) < len(drawn) or not drawn:
            return []  # a line at fault may be the main one: that fault is reported elsewhere
        return [
            Fault("river", "no line is the main one", "Give the main channel's line part = main")
        ]
    upper, lower, gap, place = _nearest_ends(mains)
    where = place_words(place.x, place.y, drawing.crs)
    found = (
        f"the main line is in {len(mains)} pieces ({', '.join(one.where for one in mains)}); "
        f"nearest ends are {length_words(gap, drawing.units)} apart at {where}"
    )
    fix = (
        f"Join them into one line drawn downstream, {upper.where} before {lower.where}; "
        "or give a side channel part = side"
    )
    return [Fault("river", found, fix)]


def crossing_itself(drawing: Drawing) -> list[Fault]:
    """Return a fault for each river line that crosses itself."""
    faults = []
    for one in drawing.features["river"]:
        place = crossing_place(one.shape, drawing.crs) if one.shape is not None else None
        if place is not None:
            fault = Fault(
                one.where, f"the line crosses itself at {place}", "Move its corners there"
            )
            faults.append(fault)
    return faults


def length(drawing: Drawing) -> list[Fault]:
    """Return a fault where the main line is implausibly short or long."""
    main = drawing.main
    if main is None or LENGTH_LIMITS[0] <= main.length <= LENGTH_LIMITS[1]:
        return []
    low, high = (length_words(limit, drawing.units) for limit in LENGTH_LIMITS)
    found = f"the main line is {length_words(main.length, drawing.units)} long"
    fix = f"A reach is {low} to {high}: check that its file's CRS is the true one"
    return [Fault(drawing.mains[0].where, found, fix)]


def drawn_upstream(drawing: Drawing) -> list[Fault]:
    """Return a fault for each piece of evidence that the main line runs upstream: DEM, levels."""
    main = drawing.main
    if main is None:
        return []
    faults = []
    for witness, station, height in _direction_evidence(drawing, main):
        rise = main.length * median_slope(station, height)
        if rise > max(LEAST_RISE, LEAST_RISE_SLOPE * main.length):
            found = (
                f"it is drawn upstream: {witness} rise {length_words(rise, drawing.units)} along it"
            )
            fix = "Reverse the line, so that it runs downstream"
            if witness == DEM_WITNESS:
                fix += OR_ACCEPT
            faults.append(Fault(drawing.mains[0].where, found, fix))
    return faults


def angler_overrides_dem(drawing: Drawing) -> bool:
    """Return whether the angler's statement of the fall overrides the DEM's heights along the line.

    So if the DEM was accepted as it is; or it includes the bed, which may rise, and the slope is
    given; or levels noted at one flow fall downstream.
    """
    reach_toml = drawing.reach_toml
    if "dem" in reach_toml.plan.accepted:
        return True
    said = not math.isnan(reach_toml.plan.slope) or not math.isnan(reach_toml.fall_m)
    return (reach_toml.plan.dem.below_water and said) or level_slope(drawing) is not None


def side_channels(drawing: Drawing) -> list[Fault]:
    """Return a fault for each side channel drawn upstream."""
    main = drawing.main
    faults: list[Fault] = []
    if main is None:
        return faults
    for one in drawing.features["river"]:
        if one.shape is None or one.values["part"] is not Part.SIDE:
            continue
        ends = [Point(one.shape.coords[index]) for index in (0, -1)]
        if max(main.distance(end) for end in ends) > NEAR_MAIN:
            continue
        start, end = (main.project(place) for place in ends)
        if start > end + SLACK:
            found = "this side channel is drawn upstream: its end lies above its beginning"
            faults.append(Fault(one.where, found, "Reverse the line, so that it runs downstream"))
    return faults


def slope_known(drawing: Drawing) -> list[Fault]:
    """Return a fault where neither DEM nor plan nor notes give the river's slope."""
    reach_toml = drawing.reach_toml
    known = not math.isnan(reach_toml.plan.slope) or not math.isnan(reach_toml.fall_m)
    known = known or dem_gives_slope(drawing) or level_slope(drawing) is not None
    if known or drawing.main is None:
        return []
    found = "nothing tells how steep the river is"
    if drawing.tiles:
        found += ": the DEM knows too few heights along the line"
    fix = "Add slope or fall under [river] in reach.toml, or a DEM, or two level notes at one flow"
    return [Fault("reach.toml, [river]", found, fix)]


def dem_gives_slope(drawing: Drawing) -> bool:
    """Return whether the DEM has enough heights along the line for its slope."""
    heights = drawing.heights
    return heights is not None and int(np.isfinite(heights.river).sum()) >= FEWEST_HEIGHTS


def level_slope(drawing: Drawing) -> float | None:
    """Return the slope of level notes at one flow [m/m]; None where they give none."""
    main = drawing.main
    if main is None:
        return None
    station, height = levels_at_one_flow(drawing, main)
    if station.size < 2 or np.ptp(station) < LENGTH_LIMITS[0]:
        return None
    slope = -median_slope(station, height)
    return slope if slope > 0 else None


def levels_at_one_flow(drawing: Drawing, main: LineString) -> tuple[FloatArray, FloatArray]:
    """Return stations and heights [m] of the largest set of level notes taken at one flow."""
    notes = [
        (main.project(one.shape), one.values["level"], one.values["flow"])
        for one in drawing.features["levels"]
        if one.shape is not None and not math.isnan(one.values["level"])
    ]
    best: list[tuple[float, float, float]] = []
    for _, _, flow in notes:
        near = [
            note
            for note in notes
            if (math.isnan(flow) and math.isnan(note[2])) or abs(note[2] - flow) <= SAME_FLOW * flow
        ]
        best = max(best, near, key=len)
    return np.array([note[0] for note in best]), np.array([note[1] for note in best])


def _direction_evidence(
    drawing: Drawing, main: LineString
) -> list[tuple[str, FloatArray, FloatArray]]:
    """Return the heights that show the line's direction, as (words, stations [m], heights [m])."""
    found = []
    heights = drawing.heights
    known = heights is not None and np.isfinite(heights.river).sum() >= FEWEST_HEIGHTS
    if heights is not None and known and not angler_overrides_dem(drawing):
        found.append((DEM_WITNESS, heights.station, heights.river))
    station, level = levels_at_one_flow(drawing, main)
    if station.size >= 2:
        found.append(("the levels you noted", station, level))
    return found


def _nearest_ends(mains: tuple[Feature, ...]) -> tuple[Feature, Feature, float, Point]:
    """Return the two pieces nearest to each other, upper first, their gap [m] and its place."""
    best: tuple[Feature, Feature, float, Point] | None = None
    for upper in mains:
        for lower in mains:
            if upper is lower or upper.shape is None or lower.shape is None:
                continue
            end, start = Point(upper.shape.coords[-1]), Point(lower.shape.coords[0])
            gap = end.distance(start)
            if best is None or gap < best[2]:
                best = (upper, lower, gap, end)
    if best is None:
        msg = "needs two pieces"
        raise ValueError(msg)
    return best
