"""Water's edges seen at known flows, as offsets along a channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter1d, median_filter
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.ground.channels import Channel
from reachmap.markup.model import Edge

SAME_FLOW = 0.02
"""Flows closer than this share are one flow (our choice: finer than a gauge resolves)."""

REACH_WIDTHS = 1.5
"""How far outside a channel an edge may lie and still be its own, in widths (our choice)."""

GAP_WIDTHS = 2.0
"""Longest gap along the river bridged between two seen stretches, in widths (our choice)."""


@dataclass(frozen=True, slots=True)
class EdgePair:
    """The water's edges at one flow along a channel.

    Parameters
    ----------
    flow
        Discharge [m3/s].
    left, right
        Offset at each vertex of the channel's line [m]; NaN where it was not seen.
    """

    flow: float
    left: FloatArray
    right: FloatArray

    @property
    def seen(self) -> float:
        """Return the share of the vertices at which at least one side was seen."""
        return float((np.isfinite(self.left) | np.isfinite(self.right)).mean())


def edge_pairs(channel: Channel, edges: Sequence[Edge], traced_flow: float) -> list[EdgePair]:
    """Return the drawn edges of the channel and those of the bank polygons, flows rising.

    Edges of a higher flow never lie inside those of a lower one: where they were drawn so, the
    lower flow's edge is held. Parameters as of `drawn_pairs`.
    """
    return _widening(drawn_pairs(channel, edges, traced_flow), traced_flow)


def drawn_pairs(channel: Channel, edges: Sequence[Edge], traced_flow: float) -> list[EdgePair]:
    """Return the edges of the channel and those of the bank polygons as drawn, flows rising.

    Parameters
    ----------
    channel
        Whose.
    edges
        As drawn: lines, or outlines of the wet area.
    traced_flow
        At which the banks were traced [m3/s].
    """
    flows: dict[float, list[BaseGeometry]] = {}
    for edge in edges:
        same = [flow for flow in flows if abs(flow - edge.flow) <= SAME_FLOW * edge.flow]
        flows.setdefault(same[0] if same else edge.flow, []).append(edge.shape)
    pairs = [EdgePair(flow, *edge_offsets(channel, shapes)) for flow, shapes in flows.items()]
    pairs = [pair for pair in pairs if abs(pair.flow - traced_flow) > SAME_FLOW * traced_flow]
    pairs.append(EdgePair(traced_flow, channel.left, channel.right))
    return sorted((pair for pair in pairs if pair.seen > 0), key=lambda pair: pair.flow)


def _widening(pairs: list[EdgePair], traced_flow: float) -> list[EdgePair]:
    """Return the pairs held so that a higher flow is never the narrower; the traced one stays."""
    middle = next(i for i, pair in enumerate(pairs) if pair.flow == traced_flow)
    held = {middle: pairs[middle]}
    for step, order in ((1, range(middle + 1, len(pairs))), (-1, range(middle - 1, -1, -1))):
        near = pairs[middle]
        for i in order:
            outer = np.fmax if step > 0 else np.fmin
            inner = np.fmin if step > 0 else np.fmax
            pair = pairs[i]
            left = np.where(np.isfinite(pair.left), outer(pair.left, near.left), np.nan)
            right = np.where(np.isfinite(pair.right), inner(pair.right, near.right), np.nan)
            held[i] = EdgePair(pair.flow, left, right)
            near = EdgePair(pair.flow, outer(near.left, left), inner(near.right, right))
    return [held[i] for i in range(len(pairs))]


def edge_offsets(channel: Channel, shapes: Sequence[BaseGeometry]) -> tuple[FloatArray, FloatArray]:
    """Return the offsets of drawn edges on the left and right of a channel; NaN where none is.

    A piece of edge left of the line is a left edge. Of several at one station the outermost counts:
    those within it run round bars.
    """
    line = channel.line
    sides = {1: np.full(len(line.station), -np.inf), -1: np.full(len(line.station), -np.inf)}
    reach = REACH_WIDTHS * channel.median_width
    for shape in shapes:
        points = shapely.get_coordinates(shapely.segmentize(shape, line.step / 2))
        station, offset = line.to_station_offset(points[:, 0], points[:, 1])
        near = (station > 0) & (station < line.length)
        near &= channel.excess(station, offset) < reach
        bins = line.vertex(station)
        for sign, outermost in sides.items():
            mine = near & (sign * offset > 0)
            np.maximum.at(outermost, bins[mine], sign * offset[mine])
    left, right = (
        sign * _bridged(np.where(np.isfinite(far), far, np.nan), channel)
        for sign, far in sides.items()
    )
    return left, right


def _bridged(offset: FloatArray, channel: Channel) -> FloatArray:
    """Return offsets with short gaps bridged and single spikes removed."""
    known = np.flatnonzero(np.isfinite(offset))
    if known.size < 2:
        return offset
    line = channel.line
    rows = np.arange(len(offset))
    filled = np.interp(rows, known, offset[known])
    before = known[np.searchsorted(known, rows, side="right").clip(1) - 1]
    after = known[np.searchsorted(known, rows, side="left").clip(max=known.size - 1)]
    gap = np.where((rows < known[0]) | (rows > known[-1]), np.inf, (after - before) * line.step)
    calm = gaussian_filter1d(median_filter(filled, size=5, mode="nearest"), 1.0, mode="nearest")
    return np.asarray(np.where(gap <= GAP_WIDTHS * channel.median_width, calm, np.nan))
