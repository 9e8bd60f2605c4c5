"""The banks that face a line: how far off they lie on either side of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter1d, median_filter
from shapely import Polygon

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.words import Side
from reachmap.markup.model import Bank


def facing_edges(
    line: Centreline, banks: Sequence[Bank], *, name_sides: bool
) -> tuple[FloatArray, FloatArray]:
    """Return the offsets of the nearest bank on the left and right of each vertex [m].

    Each bank's outline is walked in short steps, each step is given the station of its nearest
    point of the line, and the innermost step at each station is the edge: so no ray is cast and
    none can cross another in a tight bend. NaN at stations that no bank faces.

    Parameters
    ----------
    line
        The line.
    banks
        Drawn banks.
    name_sides
        Whether a bank's drawn side says where it lies; else the line itself does.
    """
    found: dict[int, list[FloatArray]] = {1: [], -1: []}
    walked = boundaries_offsets(line, [bank.outline for bank in banks])
    for bank, (station, offset) in zip(banks, walked, strict=True):
        if not station.size:
            continue
        on_left = offset > 0
        if name_sides:
            left = (
                float(np.median(offset)) > 0 if bank.side is Side.ISLAND else bank.side is Side.LEFT
            )
            on_left = np.full(offset.shape, left)
        for sign, chosen in ((1, on_left), (-1, ~on_left)):
            found[sign].append(np.vstack([station[chosen], offset[chosen]]))
    return _innermost(line, found[1], 1), _innermost(line, found[-1], -1)


def boundaries_offsets(
    line: Centreline, outlines: Sequence[Polygon]
) -> list[tuple[FloatArray, FloatArray]]:
    """Return station and offset along each polygon's outline, in steps of half the line's step.

    Steps before the line's head or beyond its foot are left out.
    """
    if not outlines:
        return []
    rings = shapely.segmentize(np.asarray(outlines, dtype=object), line.step / 2)
    points, of = shapely.get_coordinates(rings, return_index=True)
    station, offset = line.to_station_offset(points[:, 0], points[:, 1])
    along = (station >= 0) & (station <= line.length)
    parts = np.searchsorted(of[along], np.arange(1, len(outlines)))
    stations, offsets = np.split(station[along], parts), np.split(offset[along], parts)
    return list(zip(stations, offsets, strict=True))


def _innermost(line: Centreline, edges: Sequence[FloatArray], sign: int) -> FloatArray:
    """Return the least offset outwards (times `sign`) at each vertex, NaN where there is none."""
    least = np.full(len(line.station), np.inf)
    for station, offset in edges:
        np.minimum.at(least, line.vertex(station), sign * offset)
    return np.where(np.isfinite(least), sign * least, np.nan)


def whole_edges(
    line: Centreline, edges: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray] | None:
    """Return both edges with gaps filled from their neighbours and spikes removed.

    A side with no bank at all mirrors the other; None where neither has any.
    """
    left, right = (_filled(line, edge) for edge in edges)
    if left is None and right is None:
        return None
    if left is None:
        return -np.asarray(right), np.asarray(right)
    return left, -left if right is None else right


def _filled(line: Centreline, edge: FloatArray) -> FloatArray | None:
    """Return an edge with gaps filled and spikes removed; None where nothing is known."""
    known = np.isfinite(edge)
    if not known.any():
        return None
    filled = np.interp(line.station, line.station[known], edge[known])
    calm = median_filter(filled, size=5, mode="nearest")
    return np.asarray(gaussian_filter1d(calm, 1.0, mode="nearest"))
