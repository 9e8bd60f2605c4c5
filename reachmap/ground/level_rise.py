"""Rise of the water level between two flows, from the channel's own section."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import gaussian_filter1d

from reachmap.base.arrays import FloatArray
from reachmap.base.resistance import Stones
from reachmap.ground.edges import EdgePair
from reachmap.ground.sections import Sections

HIGHEST_SHIFT_M = 15.0
"""No shift above this is looked for [m]."""

HALVINGS = 30
"""Steps of bisection: 15 m to less than a tenth of a millimetre."""


def shifts_at_edges(
    sections: Sections,
    depth: FloatArray,
    slope: FloatArray,
    pairs: Sequence[EdgePair],
    part: FloatArray,
    resistance: tuple[float, Stones],
) -> list[FloatArray]:
    """Return for each pair of edges how far its water stands above that of the first [m], by row.

    Between two edges the ground rises evenly with distance, so the only unknown of a section is how
    high: it is the height at which the section carries the flow by Manning's formula. Rows where an
    edge was not seen take their neighbours' rise; rises are smoothed over ten widths, since a flow
    raises the water along a reach by much the same.

    Parameters
    ----------
    sections
        The channel's.
    depth
        Below the first pair's water [m] (rows, columns), 0 outside its edges.
    slope
        Friction slope by row [m/m].
    pairs
        Flows rising, the first being that of `depth`.
    part
        Share of the river's flow that this channel carries, by row.
    resistance
        Manning's n and the stones of the bed.
    """
    roughness, stones = resistance
    offset = sections.offset[None, :]
    ground = np.where(depth > 0, -depth, 0.0)
    shifts = [np.zeros(len(slope))]
    known = pairs[0]
    reach = 5 * sections.channel.median_width / sections.channel.line.step
    for pair in pairs[1:]:
        left = np.where(np.isfinite(pair.left), pair.left, known.left)[:, None]
        right = np.where(np.isfinite(pair.right), pair.right, known.right)[:, None]
        base = shifts[-1][:, None]
        wedge = _wedge(offset, (known.left[:, None], left), (known.right[:, None], right))
        inner = wedge <= 0
        outside = (offset > left) | (offset < right)
        want = part * pair.flow
        low, high = shifts[-1].copy(), np.full(len(slope), HIGHEST_SHIFT_M)
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            rise = (middle[:, None] - base) * (1 - wedge)
            water = np.where(inner, middle[:, None] - ground, rise)
            water = np.where(outside, 0.0, np.maximum(water, 0.0))
            carried = stones.carried(water, roughness).sum(axis=1)
            carried *= sections.spacing * np.sqrt(slope)
            less = carried < want
            low, high = np.where(less, middle, low), np.where(less, high, middle)
        found = _smoothed((low + high) / 2, np.isfinite(pair.left) | np.isfinite(pair.right), reach)
        found = np.maximum(found, shifts[-1])
        ground = np.where(inner, ground, base + (found[:, None] - base) * np.clip(wedge, 0, 1))
        shifts.append(found)
        known = EdgePair(pair.flow, left[:, 0], right[:, 0])
    return shifts


def _wedge(
    offset: FloatArray, left: tuple[FloatArray, FloatArray], right: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """Return 0 within the inner edges, rising to 1 at the outer ones on either side."""
    on_left = (offset - left[0]) / np.maximum(left[1] - left[0], 1e-6)
    on_right = (right[0] - offset) / np.maximum(right[0] - right[1], 1e-6)
    return np.clip(np.maximum(on_left, on_right), 0.0, 1.0)


def _smoothed(values: FloatArray, good: np.ndarray, reach: float) -> FloatArray:
    """Return values smoothed over `reach` rows, rows that are not good taking no part."""
    if not good.any():
        return values
    weight = gaussian_filter1d(good.astype(np.float64), reach, mode="nearest")
    smooth = gaussian_filter1d(np.where(good, values, 0.0), reach, mode="nearest")
    rows = np.arange(len(values))
    known = weight > 1e-6
    return np.asarray(np.interp(rows, rows[known], smooth[known] / weight[known]))
