"""Flow from stage by a rating, and the range a rating covers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.gauge.model import RatingSegment


def flow_from_stage(segments: Sequence[RatingSegment], stage: FloatArray) -> FloatArray:
    """Return the flow of stages by a rating [m3/s]; NaN outside its range: it is not extrapolated.

    Parameters
    ----------
    segments
        Segments of the rating, ascending; neighbours share the point at the breakpoint.
    stage
        Gauge heights [m], 1-D; NaN stays NaN.

    Notes
    -----
    Between two points of a segment: `flow_between`.
    """
    gaps = [
        (piece.stage_m[i], piece.stage_m[i + 1], piece.flow[i], piece.flow[i + 1], piece.offset_m)
        for piece in segments
        for i in range(piece.stage_m.size - 1)
    ]
    if not gaps:
        return np.full(stage.shape, np.nan)
    h1, h2, q1, q2, offset = np.array(gaps, dtype=np.float64).T
    known = (stage >= h1[0]) & (stage <= h2[-1])
    gap = np.clip(np.searchsorted(h2, stage), 0, h2.size - 1)
    h1, h2, q1, q2, offset = h1[gap], h2[gap], q1[gap], q2[gap], offset[gap]
    rated = flow_between(stage, (h1, h2), (q1, q2), offset)
    return np.where(known & (stage >= h1), rated, np.nan)


def flow_between(
    stage: FloatArray,
    stages: tuple[FloatArray, FloatArray],
    flows: tuple[FloatArray, FloatArray],
    offset: FloatArray,
) -> FloatArray:
    """Return the flow of stages between two points of a rating [m3/s]; all arrays of one shape.

    Parameters
    ----------
    stage
        Gauge heights [m].
    stages, flows
        The points below and above each stage [m], [m3/s].
    offset
        Offset of the rating segment that each stage lies in [m].

    Notes
    -----
    Q = Q1 ((h - e) / (h1 - e))^b through both points, e the offset [1]_; linear where the lower
    point carries no flow or does not lie above the offset.

    References
    ----------
    .. [1] U.S. Geological Survey, rating files with RATING EXPANSION "logarithmic".
    """
    (h1, h2), (q1, q2) = stages, flows
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.log(q2 / q1) / np.log((h2 - offset) / (h1 - offset))
        curved = q1 * ((stage - offset) / (h1 - offset)) ** power
    straight = q1 + (q2 - q1) * (stage - h1) / (h2 - h1)
    return np.where((q1 > 0) & (h1 > offset), curved, straight)


def rated_range(segments: Sequence[RatingSegment]) -> tuple[float, float] | None:
    """Return the least and the greatest flow of a rating [m3/s]; None where there is none."""
    flows = [piece.flow for piece in segments if piece.flow.size]
    if not flows:
        return None
    return float(min(each.min() for each in flows)), float(max(each.max() for each in flows))
