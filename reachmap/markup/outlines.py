"""Normalisation of drawn geometry: 2-D, single-part, in the project's CRS; and its faults."""

from __future__ import annotations

import re

import numpy as np
import shapely
from shapely import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.markup.layers import LINE, POINT, POLYGON
from reachmap.markup.places import place_words

_AT = re.compile(r"\[\s*(\S+)\s+([^\s\]]+)")

LEAST_LENGTH = 1e-9
"""Lines and areas below this count as empty, in any unit."""


def single_parts(shape: BaseGeometry) -> list[BaseGeometry]:
    """Return a drawn feature's single parts; lines that meet end to end are joined.

    Heights of 3-D geometry are dropped: they are the ellipsoid's or a phone's, not the DEM's.
    """
    flat = shapely.force_2d(shape)
    if flat.is_empty:
        return [flat]
    if isinstance(flat, MultiLineString) and np.isfinite(shapely.get_coordinates(flat)).all():
        lines = MultiLineString([line for line in flat.geoms if line.length > 0])
        merged = shapely.line_merge(lines, directed=True)
        return list(shapely.get_parts(merged)) or [flat.geoms[0]]
    parts = [part for part in shapely.get_parts(flat) if not part.is_empty]
    if any(part.geom_type.startswith(("Multi", "GeometryC")) for part in parts):
        return [single for part in parts for single in single_parts(part)]
    return parts


def closed_line(line: LineString) -> BaseGeometry:
    """Return the polygon bounded by a line, its ends joined; the line where it bounds none."""
    corners = shapely.get_coordinates(line)
    return Polygon(corners) if len(corners) >= 3 else line


def shape_fault(
    shape: BaseGeometry | None, wanted: tuple[str, ...], crs: str
) -> tuple[str, str] | None:
    """Return the fault of a single geometry as (found, fix), None for a valid one.

    Parameters
    ----------
    shape
        Geometry in the file's CRS.
    wanted
        Kinds of geometry the layer may hold.
    crs
        CRS of the geometry, for the place of the fault.
    """
    if shape is None or shape.is_empty:
        return "nothing is drawn", "Draw it or delete the row"
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        return "it has a corner that is not a number", "Draw it again or delete the row"
    if shape.geom_type not in wanted:
        found = f"it is drawn as a {_plain(shape.geom_type)}"
        return found, f"Draw it as a {' or a '.join(_plain(kind) for kind in wanted)}"
    if shape.geom_type == LINE and shape.length < LEAST_LENGTH:
        return "it is a line of no length", "Draw it again or delete the row"
    if shape.geom_type == POLYGON and not shape.is_valid:
        reason = shapely.is_valid_reason(shape)
        if shape.area < LEAST_LENGTH and "Self-intersection" not in reason:
            return "its outline has no area", "Draw it again or delete the row"
        where = _reason_place(reason, crs)
        return f"its outline crosses or touches itself{where}", "Move the corners there apart"
    return None


def crossing_place(line: LineString, crs: str) -> str | None:
    """Return where a line crosses itself, in words; None where it does not."""
    place = crossing_point(line)
    return None if place is None else place_words(*place, crs)


def crossing_point(line: LineString) -> tuple[float, float] | None:
    """Return where a line crosses itself, in its CRS; None where it does not."""
    if line.is_simple:
        return None
    x, y = shapely.get_coordinates(line)[0]
    noded = shapely.node(line)
    parts = shapely.get_parts(
        noded
    )  # the ends of a closed line coincide and would be counted twice
    ends = shapely.get_coordinates([shapely.get_point(parts, 0), shapely.get_point(parts, -1)])
    places, counts = np.unique(np.round(ends, 9), axis=0, return_counts=True)
    if counts.max(initial=0) > 2:
        x, y = places[np.argmax(counts)]
    return float(x), float(y)


def _reason_place(reason: str, crs: str) -> str:
    """Return " at ..." from GEOS's reason for an invalid geometry."""
    match = _AT.search(reason)
    try:
        return f" at {place_words(float(match[1]), float(match[2]), crs)}" if match else ""
    except ValueError:
        return ""


def _plain(kind: str) -> str:
    """Return a kind of geometry in plain words."""
    words = {LINE: "line", POLYGON: "polygon", POINT: "point", "LinearRing": "ring"}
    return words.get(kind, kind)
