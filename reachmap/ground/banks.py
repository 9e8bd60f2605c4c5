"""Height of the banks where no DEM covers them: linear between the drawn heights."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import FloatArray
from reachmap.base.words import Cover, Side
from reachmap.ground.bank_offsets import outline_offsets
from reachmap.ground.channels import Channel
from reachmap.ground.edges import EdgePair
from reachmap.ground.layout import Layout
from reachmap.markup.model import Bank

STEEP = (Cover.CUTBANK, Cover.BUILT)
"""Covers that rise to their full height at the water's edge."""

ROW_SPAN = 1.0e5
"""Key distance between rows, longer than any section [m]."""

CROWN_SHARE = 0.5
"""An island reaches its full rise at this share of its half width (our choice)."""


def bank_ground(
    layout: Layout, banks: Sequence[Bank], pairs: Sequence[Sequence[EdgePair]], heights: Heights
) -> FloatArray:
    """Return the ground at every cell that drawn edges and rises bracket [m]; NaN elsewhere.

    On each row and side, the heights known are: each edge's own water level, and each bank's rise
    at its outer edge. Between two of them the ground runs straight; beyond the last it is unknown.

    Parameters
    ----------
    layout
        The drawing laid out.
    banks
        As drawn.
    pairs
        Of each channel, flows rising.
    heights
        Of the water at those flows.
    """
    ground = np.full(layout.station.shape, np.nan)
    for number, channel in enumerate(layout.channels):
        mine = (layout.owner == number) & layout.along
        traced = np.interp(layout.station[mine], channel.line.station, heights.traced[number])
        for sign in (1, -1):
            row, out, height = _known(channel, banks, (sign, layout.corridor.grid.cell))
            for pair, level in zip(pairs[number], heights.at_pairs[number], strict=True):
                edge = sign * (pair.left if sign > 0 else pair.right)
                drawn = sign * (channel.left if sign > 0 else channel.right)
                seen = np.flatnonzero(np.isfinite(edge))
                row = np.r_[row, seen]
                out = np.r_[out, edge[seen] - drawn[seen]]
                height = np.r_[height, level[seen] - heights.traced[number][seen]]
            side = sign * (layout.offset - _middle(channel, layout.station)) >= 0
            rise = _along_rows(channel, (row, out, height), layout.station, layout.excess)
            ground[mine] = np.where(side[mine], traced + rise[mine], ground[mine])
    return _with_islands(layout, banks, ground, heights.cells)


class Heights:
    """Water levels: `traced` and `at_pairs` by channel and row, `cells` traced at the cells [m]."""

    def __init__(
        self,
        traced: Sequence[FloatArray],
        at_pairs: Sequence[Sequence[FloatArray]],
        cells: FloatArray,
    ) -> None:
        """Keep the levels."""
        self.traced, self.at_pairs, self.cells = traced, at_pairs, cells


def _middle(channel: Channel, station: FloatArray) -> FloatArray:
    """Return the offset of the middle of the drawn water at stations [m]."""
    return np.interp(station, channel.line.station, (channel.left + channel.right) / 2)


def _known(
    channel: Channel, banks: Sequence[Bank], which: tuple[int, float]
) -> tuple[np.ndarray, FloatArray, FloatArray]:
    """Return row, distance outside the edge and rise wherever a bank's rise gives a height."""
    sign, cell = which
    line = channel.line
    rows, outs, rises = [np.empty(0, dtype=np.int64)], [np.empty(0)], [np.empty(0)]
    risen = [one for one in banks if np.isfinite(one.rise_m) and one.side is not Side.ISLAND]
    walked = outline_offsets(line, [bank.outline for bank in risen])
    for bank, (station, offset) in zip(risen, walked, strict=True):
        out = channel.excess(station, offset)
        middle = _middle(channel, station)
        mine = (sign * (offset - middle) > 0) & (out > -cell)
        if not mine.any():
            continue
        bins = line.vertex(station[mine])
        far = np.full(len(line.station), -np.inf)
        near = np.full(len(line.station), np.inf)
        np.maximum.at(far, bins, out[mine])
        np.minimum.at(near, bins, out[mine])
        has = np.flatnonzero(np.isfinite(far) & (far > cell / 2))
        rows.append(has)
        outs.append(far[has])
        rises.append(np.full(has.size, bank.rise_m))
        if bank.cover in STEEP:
            foot = np.minimum(np.maximum(near[has], 0) + cell, far[has])
            rows.append(has)
            outs.append(foot)
            rises.append(np.full(has.size, bank.rise_m))
    return np.concatenate(rows), np.concatenate(outs), np.concatenate(rises)


def _along_rows(
    channel: Channel,
    points: tuple[np.ndarray, FloatArray, FloatArray],
    station: FloatArray,
    excess: FloatArray,
) -> FloatArray:
    """Return the height at places, linear in excess between the points of their row; NaN beyond."""
    row, out, height = points
    if not row.size:
        return np.full(station.shape, np.nan)
    order = np.lexsort((out, row))
    row, out, height = row[order], out[order], height[order]
    key = row * ROW_SPAN + out
    at = channel.line.vertex(station)
    least = np.full(len(channel.line.station), np.inf)
    most = np.full(len(channel.line.station), -np.inf)
    np.minimum.at(least, row, out)
    np.maximum.at(most, row, out)
    got = np.interp(at * ROW_SPAN + excess, key, height)
    inside = (excess >= least[at] - 1e-6) & (excess <= most[at] + 1e-6)
    return np.where(inside, got, np.nan)


def _with_islands(
    layout: Layout, banks: Sequence[Bank], ground: FloatArray, level: FloatArray
) -> FloatArray:
    """Return the ground with drawn islands rising from the water's edge to a level crown."""
    risen = ground.copy()
    grid = layout.corridor.grid
    for number, bank in enumerate(banks, start=1):
        if bank.side is not Side.ISLAND:
            continue
        mine = np.flatnonzero(layout.bank == number)
        if not mine.size:
            continue
        risen[mine] = np.nan
        if np.isnan(bank.rise_m):
            continue
        row, col = layout.corridor.row[mine], layout.corridor.col[mine]
        box = np.zeros((np.ptp(row) + 3, np.ptp(col) + 3), dtype=bool)
        box[row - row.min() + 1, col - col.min() + 1] = True
        inward = distance_transform_edt(box)[row - row.min() + 1, col - col.min() + 1] * grid.cell
        inward = inward - grid.cell / 2
        crown = CROWN_SHARE * inward.max()
        share = np.clip(inward / crown, 0, 1) if crown > 0 else np.ones(inward.shape)
        risen[mine] = level[mine] + bank.rise_m * share
    return risen
