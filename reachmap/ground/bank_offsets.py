"""Offsets of the nearest drawn banks on either side of a line."""

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

FACING = 0.35
"""Cosine between a bank's outline and the line above which it is the water's edge there: 70 degrees
across. Our choice, 0.2-0.6: an edge may flare by 60 degrees; the end of a polygon stands at 90."""

FARTHEST_WIDTHS = 1.5
"""A bank farther than this many usual widths from the line does not bound the water. Our choice,
1-2: a line drawn along one bank has the other at 1, and pools are wider than usual."""

GAP_WIDTHS = 1.0
"""A gap between two banks no longer than this, in usual widths, is crossed straight; in a longer
one the water's edge is unknown. Our choice, 0.5-1.5."""

END_WIDTHS = 0.25
"""Length of a bank's end beside a gap that is not taken for the water's edge, in usual widths. Our
choice, 0.1-0.5: ends are drawn round, and a curved line sees their face aslant."""


def bank_offsets(
    line: Centreline, banks: Sequence[Bank], *, name_sides: bool
) -> tuple[FloatArray, FloatArray]:
    """Return the offsets of the nearest bank on the left and right of each vertex [m].

    Each bank's outline is walked in short steps, each step is given the station of its nearest
    point of the line, and the innermost step at each station is the edge: so no ray is cast and
    none can cross another in a tight bend. Only steps that face the line count (`FACING`): the ends
    and the back of a polygon beside a gap are no water's edge. NaN at stations that no bank faces.

    Parameters
    ----------
    line
        The line.
    banks
        Drawn banks.
    name_sides
        Whether a bank counts on its drawn side; else each step of its outline on the side of the
        line it lies on.
    """
    found: dict[int, list[FloatArray]] = {1: [], -1: []}  # station, offset, facing or not
    walked = _stepped(line, [bank.outline for bank in banks])
    for bank, (station, offset, faces) in zip(banks, walked, strict=True):
        if not station.size:
            continue
        on_left = offset > 0
        if name_sides:
            left = (
                float(np.median(offset)) > 0 if bank.side is Side.ISLAND else bank.side is Side.LEFT
            )
            on_left = np.full(offset.shape, left)
        for sign, chosen, face in ((1, on_left, faces[0]), (-1, ~on_left, faces[1])):
            found[sign].append(np.vstack([station, offset, face > FACING])[:, chosen])
    return _innermost(line, found[1], 1), _innermost(line, found[-1], -1)


def outline_offsets(
    line: Centreline, outlines: Sequence[Polygon]
) -> list[tuple[FloatArray, FloatArray]]:
    """Return station and offset along each polygon's outline, in steps of half the line's step.

    Steps before the line's head or beyond its foot are left out.
    """
    return [(station, offset) for station, offset, _ in _stepped(line, outlines)]


def _stepped(
    line: Centreline, outlines: Sequence[Polygon]
) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
    """Return station, offset and facing along each polygon's outline, in steps of half the line's.

    Facing is two rows: how far the outline there runs as the edge of a bank on the left, and of one
    on the right, does: the cosine between the two, the larger one of the steps before and after. An
    outline walked with its inside to the right runs upstream where its bank lies on the left.
    """
    if not outlines:
        return []
    turned = shapely.normalize(np.asarray(outlines, dtype=object))  # inside to the right
    points, of = shapely.get_coordinates(
        shapely.segmentize(turned, line.step / 2), return_index=True
    )
    station, offset = line.to_station_offset(points[:, 0], points[:, 1])
    angle = line.direction(station)
    step = np.diff(points, axis=0)
    size = np.maximum(np.hypot(*step.T), 1e-12)
    heading = np.full((2, len(points)), np.nan)  # of the steps before and after each point
    middle = (np.cos(angle), np.sin(angle))
    for row, here in ((0, slice(1, None)), (1, slice(None, -1))):
        heading[row, here] = (step[:, 0] * middle[0][here] + step[:, 1] * middle[1][here]) / size
    same = np.diff(of) == 0
    heading[0, 1:][~same] = heading[1, :-1][~same] = np.nan
    faces = np.vstack([np.fmax(*-heading), np.fmax(*heading)])
    along = (station >= 0) & (station <= line.length)
    parts = np.searchsorted(of[along], np.arange(1, len(outlines)))
    return list(
        zip(
            np.split(station[along], parts),
            np.split(offset[along], parts),
            np.split(faces[:, along], parts, axis=1),
            strict=True,
        )
    )


def bounding(
    line: Centreline, edges: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Return both edges across short gaps; NaN in long ones and where a bank is too far away.

    Too far is `FARTHEST_WIDTHS`, long is `GAP_WIDTHS`; beside a long gap `END_WIDTHS` of the bank
    are NaN.
    """
    usual = _usual_width(edges)
    short, cut = (round(share * usual / line.step) for share in (GAP_WIDTHS, END_WIDTHS))
    left, right = (
        _without_ends(np.where(np.abs(edge) <= FARTHEST_WIDTHS * usual, edge, np.nan), short, cut)
        for edge in edges
    )
    return left, right


def _usual_width(edges: tuple[FloatArray, FloatArray]) -> float:
    """Return the median width between both edges [m], or twice that to the one; 0 for none."""
    width = edges[0] - edges[1]
    if not np.isfinite(width).any():
        width = 2 * np.abs(np.concatenate(edges))
    known = width[np.isfinite(width)]
    return float(np.median(known)) if known.size else 0.0


def _without_ends(edge: FloatArray, short: int, count: int) -> FloatArray:
    """Return an edge straight across gaps of `short` vertices or fewer, its ends at others cut.

    Cut are `count` vertices; of a piece shorter than twice that its middle stays.
    """
    known = np.flatnonzero(np.isfinite(edge))
    if not known.size:
        return edge
    pieces = np.split(known, np.flatnonzero(np.diff(known) > short + 1) + 1)
    kept = np.full(edge.shape, np.nan)
    for number, piece in enumerate(pieces):
        start, end = int(piece[0]), int(piece[-1]) + 1
        cut = min(count, (end - start - 1) // 2)
        above = cut if number > 0 or start > short else 0
        below = cut if number < len(pieces) - 1 or edge.size - end > short else 0
        inner = np.arange(start + above, end - below)
        kept[inner] = np.interp(inner, known, edge[known])
    return kept


def _innermost(line: Centreline, edges: Sequence[FloatArray], sign: int) -> FloatArray:
    """Return the least offset outwards (times `sign`) of an edge at each vertex, NaN where none is.

    None is where what faces the line lies behind the end or the back of another bank.
    """
    least, nearest = (np.full(len(line.station), np.inf) for _ in range(2))
    for station, offset, faces in edges:
        vertex, facing = line.vertex(station), faces > 0
        np.minimum.at(nearest, vertex, sign * offset)
        np.minimum.at(least, vertex[facing], sign * offset[facing])
    open_to = np.isfinite(least) & (least <= nearest + line.step)
    return np.where(open_to, sign * least, np.nan)


def without_gaps(
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
