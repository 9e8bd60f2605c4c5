"""Strips of water a swing is for: the near water of a piece first, the water outside it second.

The position of a fly in its strip is its offset from the river line, so that a strip follows the
bend of its piece; the near edge is the piece's own, towards the angler, station by station.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reachmap.angler.stations import Piece, Stands
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import Strip

LEAST_M = 1.0
"""A strip narrower than this is none; our choice, half a cell of most maps."""
AHEAD_M = 25.0
"""Length of water below a place that its swing fishes [m], for the strip's width; and how far below
its piece a strip goes on, since the last casts swim out of it; our choice, 15-40."""


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of a piece as seen from one bank, by steps of `step` [m] along the river from `start`.

    `sign` is +1 where offsets grow away from that bank, -1 where they fall; `near` and `far` are
    offsets times `sign` [m].
    """

    sign: float
    start: float
    step: float
    near: FloatArray
    far: FloatArray

    def at(self, station: FloatArray) -> IntArray:
        """Return the number of the step of each station, those beyond the ends as the ends."""
        with np.errstate(invalid="ignore"):
            number = np.floor((station - self.start) / self.step)
        return np.asarray(np.clip(np.nan_to_num(number), 0, self.near.size - 1), dtype=np.int32)


@dataclass(frozen=True, slots=True)
class Strips:
    """The strips of n places.

    `bank` (n,) is the number in `edges` of the piece's edges as seen from each; `piece` the piece
    itself; `band_m` the widest water fished on one pass [m]; `inner_m` and `outer_m` (n,) how wide
    the strips are at each place [m].
    """

    bank: IntArray
    edges: tuple[Edges, ...]
    pieces: tuple[Piece, ...]
    band_m: float
    inner_m: FloatArray
    outer_m: FloatArray

    def take(self, index: IntArray) -> Strips:
        """Return those of some of the places."""
        return replace(
            self,
            bank=self.bank[index],
            inner_m=self.inner_m[index],
            outer_m=self.outer_m[index],
        )

    def width(self, strip: Strip) -> FloatArray:
        """Return how wide a strip is at each place [m], shape (n,)."""
        return self.inner_m if strip is Strip.INSIDE else self.outer_m

    def holds(self, view: View, bank: int, strip: Strip, row: IntArray, col: IntArray) -> BoolArray:
        """Return which cells of the raster lie in a strip as seen from one of the banks."""
        edges, piece = self.edges[bank], self.pieces[bank]
        station, offset = view.station[row, col], view.offset[row, col]
        step = edges.at(station)
        deep = edges.sign * offset - edges.near[step]
        inner = np.minimum(edges.far[step] - edges.near[step], self.band_m)
        with np.errstate(invalid="ignore"):
            end = edges.start + edges.step * edges.near.size
            below = (station > end) & (station <= end + AHEAD_M) & (deep >= 0)
            if strip is Strip.INSIDE:
                there = piece.holds(row, col) | (below & view.wet[row, col])
                return np.asarray((deep <= inner) & there)
            along = (station >= edges.start) & (station <= end + AHEAD_M)
            beyond = (deep > inner) & (deep <= inner + self.band_m)
        return np.asarray(beyond & along & view.wet[row, col])


def find_strips(view: View, stands: Stands, pieces: list[Piece], band_m: float) -> Strips:
    """Return the strips of every place.

    Parameters
    ----------
    view
        The flow, with station and offset of each cell.
    stands
        Places to stand.
    pieces
        The water, on the raster.
    band_m
        Widest water fished on one pass [m].

    Notes
    -----
    The inner strip is the piece's water within `band_m` of its near edge; the outer one the water
    the same width beyond it, whether or not it is of the piece.
    """
    by_number = {piece.number: piece for piece in pieces}
    signs = _signs(view, stands, by_number)
    keys = sorted({(int(w), float(s)) for w, s in zip(stands.water, signs, strict=True)})
    edges = tuple(_edges(view, by_number[number], sign) for number, sign in keys)
    found = {key: place for place, key in enumerate(keys)}
    bank = np.array(
        [found[int(w), float(s)] for w, s in zip(stands.water, signs, strict=True)], dtype=np.int32
    )
    bare = np.full(len(stands), np.nan)
    strips = Strips(
        bank, edges, tuple(by_number[number] for number, _ in keys), band_m, bare, bare.copy()
    )
    for i in range(len(stands)):
        one = edges[bank[i]]
        span = one.at(np.array([stands.station[i], stands.station[i] + AHEAD_M]))
        ahead = slice(int(span[0]), int(span[1]) + 1)
        strips.inner_m[i] = np.minimum(one.far[ahead] - one.near[ahead], band_m).mean()
    for number in range(len(keys)):
        _outer(view, stands, strips, number)
    return strips


def _signs(view: View, stands: Stands, pieces: dict[int, Piece]) -> FloatArray:
    """Return the direction of the offset from each place over to its water: +1 or -1."""
    middle = {
        number: float(np.nanmedian(view.offset[piece.window][piece.cells]))
        for number, piece in pieces.items()
        if number in set(stands.water.tolist())
    }
    own = view.at(view.offset, stands.point)
    gap = np.array([middle[int(w)] for w in stands.water]) - own
    return np.where(np.nan_to_num(gap) >= 0, 1.0, -1.0)


def _edges(view: View, piece: Piece, sign: float) -> Edges:
    """Return the edges of a piece."""
    station = view.station[piece.window][piece.cells]
    offset = sign * view.offset[piece.window][piece.cells]
    known = np.isfinite(station + offset)
    station, offset = station[known], offset[known]
    step = max(view.cell, 2.0)
    start = float(station.min())
    count = max(int(np.ceil((float(station.max()) - start) / step)), 1)
    slot = np.minimum(((station - start) / step).astype(int), count - 1)
    near, far = np.full(count, np.inf), np.full(count, -np.inf)
    # A cell reaches half its side beyond its centre.
    np.minimum.at(near, slot, offset - view.cell / 2)
    np.maximum.at(far, slot, offset + view.cell / 2)
    known = np.isfinite(near)
    every = np.arange(count)
    return Edges(
        sign,
        start,
        step,
        np.interp(every, every[known], near[known]),
        np.interp(every, every[known], far[known]),
    )


def _outer(view: View, stands: Stands, strips: Strips, number: int) -> None:
    """Fill in how wide the outer strip is at the places of one bank."""
    mine = np.flatnonzero(strips.bank == number)
    edges, piece = strips.edges[number], strips.pieces[number]
    rows, cols = np.nonzero(np.isfinite(view.station[piece.window]))
    rows, cols = rows + piece.window[0].start, cols + piece.window[1].start
    out = strips.holds(view, number, Strip.OUTSIDE, rows, cols)
    slot = edges.at(view.station[rows[out], cols[out]])
    offset = edges.sign * view.offset[rows[out], cols[out]]
    inner = np.minimum(edges.far - edges.near, strips.band_m) + edges.near
    far = inner.copy()
    np.maximum.at(far, slot, offset + view.cell / 2)
    wide = np.minimum(far - inner, strips.band_m)
    for i in mine:
        span = edges.at(np.array([stands.station[i], stands.station[i] + AHEAD_M]))
        mean = float(wide[int(span[0]) : int(span[1]) + 1].mean())
        strips.outer_m[i] = mean if mean >= LEAST_M else np.nan
