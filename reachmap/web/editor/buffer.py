"""A bank polygon as a buffer of the water's edge on its land side."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.crs import WGS84, metric_crs, transform_points
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import Quantity
from reachmap.markup.quantities import number_within
from reachmap.web.editor.rows import paths_of
from reachmap.web.editor.schema import MessageError, Path

WIDTH_LIMITS = (1.0, 400.0)
"""Widths of a strip of bank [m] (our choice)."""

LEAST_STEP = 0.02
"""Tolerance of simplifying a strip's outline [m]."""


def bank_buffer(edge: Path, width: float, river: Path | None) -> tuple[Path, ...]:
    """Return the outline of a strip of bank: the edge, and that edge moved to the land side.

    Parameters
    ----------
    edge
        The water's edge in WGS84, in either direction.
    width
        How wide the strip is [m].
    river
        The main river line, to find the land side; None puts it to the left of the edge.

    Returns
    -------
    tuple
        The outer ring, in WGS84, without the corner that closes it.

    Raises
    ------
    MessageError
        If the edge turns too sharply for that width, or has no length.
    """
    middle = np.asarray(edge, dtype=np.float64).mean(axis=0)
    crs = metric_crs(float(middle[0]), float(middle[1]))
    line = LineString(_moved(edge, crs))
    if line.length <= 0 or not line.is_simple:
        msg = "The water's edge crosses itself, or has no length."
        raise MessageError(msg)
    sides = [_one_side(line, width * sign) for sign in (1.0, -1.0)]
    if river is not None:
        line = LineString(_moved(river, crs))
        sides.sort(key=lambda side: -side.representative_point().distance(line))
    outline = sides[0]
    shape, paths = paths_of(outline, crs)
    if shape != "Polygon" or not paths:
        msg = "The edge turns too sharply for a strip that wide: make it narrower."
        raise MessageError(msg)
    return paths[:1]


def read_buffer(message: dict[str, Any], units: UnitSystem) -> tuple[Path, float, Path | None]:
    """Return the edge, the width [m] and the river line of a message.

    Raises
    ------
    MessageError
        If one of them is invalid.
    """
    width, wrong = number_within(message.get("width"), Quantity.LENGTH, units, WIDTH_LIMITS)
    if wrong is not None or not np.isfinite(width):
        found, fix = wrong or ("no width is given", "Give one")
        msg = f"{found}. {fix}"
        raise MessageError(msg)
    river = message.get("beside")
    return _path(message.get("path")), width, None if river is None else _path(river)


def _path(given: object) -> Path:
    """Return a path of a message."""
    try:
        corners = np.asarray(given, dtype=np.float64)
    except (TypeError, ValueError):
        corners = np.empty(0)
    good = corners.ndim == 2 and corners.shape[0] >= 2 and corners.shape[1] == 2
    if not good or not np.isfinite(corners).all() or (np.abs(corners) > [180, 84]).any():
        msg = "The water's edge is not a line of places."
        raise MessageError(msg)
    return tuple((float(x), float(y)) for x, y in corners)


def _one_side(line: LineString, width: float) -> BaseGeometry:
    """Return the strip on one side, its edge as drawn; the largest part where it falls apart."""
    side = line.buffer(width, single_sided=True, quad_segs=4, join_style="round")
    parts = [part for part in shapely.get_parts(side) if part.geom_type == "Polygon"]
    if not parts:
        return Polygon()
    return Polygon(max(parts, key=lambda part: part.area).exterior).simplify(LEAST_STEP)


def _moved(path: Path, crs: str) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return a path's corners in a metric CRS."""
    lonlat = np.asarray(path, dtype=np.float64)
    return np.column_stack(transform_points(lonlat[:, 0], lonlat[:, 1], WGS84, crs))
