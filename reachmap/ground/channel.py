"""Channels: a centred axis with the distances to its banks, main or side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter1d, median_filter
from shapely import Polygon

from reachmap.base.errors import BuildError, Fault
from reachmap.base.shapes import B1, F8
from reachmap.base.words import Part, Side
from reachmap.ground.axis import Axis, drawn_axis, moved_sideways, smoothed
from reachmap.markup.model import Bank, Markup, River

CENTRING_ROUNDS = 5
"""How often a line is moved to the middle; each round meets the banks anew (our choice)."""

DRY_SIDE_SHARE = 0.25
"""Width of a side channel drawn across dry ground, as a share of the main width (our choice)."""

LEAST_HALF_WIDTH_M = 1.0
"""A channel narrower than twice this cannot be laid [m] (our choice)."""


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel of the river.

    Parameters
    ----------
    name
        As drawn.
    part
        Main or side.
    axis
        Centred between the banks.
    left, right
        Offsets of the water's edges as drawn, at each vertex of the axis [m]; `right` < `left`.
    dry
        Whether it was drawn across ground that was dry when the banks were traced.
    """

    name: str
    part: Part
    axis: Axis
    left: F8
    right: F8
    dry: bool

    @property
    def width(self) -> F8:
        """Return the width between the banks at each vertex [m]."""
        return self.left - self.right

    @property
    def usual_width(self) -> float:
        """Return the median width [m]."""
        return float(np.median(self.width))

    def excess(self, station: F8, offset: F8) -> F8:
        """Return how far places lie outside the drawn water's edge [m]; negative within it."""
        left = np.interp(station, self.axis.station, self.left)
        right = np.interp(station, self.axis.station, self.right)
        return np.maximum(offset - left, right - offset)

    def outline(self) -> Polygon:
        """Return the water between the drawn banks as a polygon, mended where bends fold it."""
        lx, ly = self.axis.place(self.axis.station, self.left)
        rx, ry = self.axis.place(self.axis.station, self.right)
        ring = np.column_stack([np.r_[lx, rx[::-1]], np.r_[ly, ry[::-1]]])
        return shapely.make_valid(Polygon(ring))


def lay_channels(markup: Markup, step: float) -> tuple[Channel, ...]:
    """Return the main channel and then the side channels, each centred between its banks.

    Parameters
    ----------
    markup
        The drawing, checked.
    step
        Spacing of the vertices [m].

    Raises
    ------
    BuildError
        If no bank was drawn along the main line.
    """
    main = _lay(markup.main, _that_bound_the_main(markup), step, name_sides=True)
    if main is None:
        raise BuildError(
            [
                Fault(
                    f"river {markup.main.name!r}",
                    "no bank polygon lies beside it",
                    "Draw at least one bank along the river, with its side",
                )
            ]
        )
    sides = []
    for river in markup.rivers:
        if river.part is Part.SIDE:
            laid = _lay_side(river, markup.banks, step, main.usual_width)
            sides.append(laid)
    return (main, *sides)


def _that_bound_the_main(markup: Markup) -> tuple[Bank, ...]:
    """Return the banks that bound the main channel.

    An island does where a side line is drawn past it; one that stands in the river with no side
    line beside it lies within the main channel, whose sections it parts in two.
    """
    sides = [river.line for river in markup.rivers if river.part is Part.SIDE]
    return tuple(
        bank
        for bank in markup.banks
        if bank.side is not Side.ISLAND
        or any(line.distance(bank.outline) < _size(bank) for line in sides)
    )


def _size(bank: Bank) -> float:
    """Return the breadth of a polygon: area over half the length of its outline [m]."""
    return float(bank.outline.area / (bank.outline.length / 2))


def _lay_side(river: River, banks: Sequence[Bank], step: float, main_width: float) -> Channel:
    """Return a side channel: between its banks, or of usual width across dry ground."""
    axis = drawn_axis(river.line, step)
    places = shapely.points(axis.x, axis.y)
    covered = np.zeros(len(places), dtype=bool)
    for bank in banks:
        covered |= shapely.contains(bank.outline, places)
    laid = None if covered.mean() > 0.5 else _lay(river, banks, step, name_sides=False)
    if laid is not None:
        return laid
    broad = max(DRY_SIDE_SHARE * main_width / 2, LEAST_HALF_WIDTH_M)
    axis = smoothed(axis, broad)
    half = np.full(axis.x.shape, broad)
    return Channel(river.name, river.part, axis, half, -half, dry=True)


def _lay(river: River, banks: Sequence[Bank], step: float, *, name_sides: bool) -> Channel | None:
    """Return the channel between the banks that face a drawn line; None where there are none."""
    axis = drawn_axis(river.line, step)
    found = facing_edges(axis, banks, name_sides=name_sides)
    if found is None:
        return None
    axis = smoothed(axis, float(np.median(found[0] - found[1])) / 4)
    for _ in range(CENTRING_ROUNDS):
        found = facing_edges(axis, banks, name_sides=name_sides)
        if found is None:
            return None
        width = float(np.median(found[0] - found[1]))
        axis = moved_sideways(axis, (found[0] + found[1]) / 2, width / 4)
    found = facing_edges(axis, banks, name_sides=name_sides)
    if found is None:
        return None
    left, right = found
    middle, half = (left + right) / 2, np.maximum((left - right) / 2, LEAST_HALF_WIDTH_M)
    return Channel(river.name, river.part, axis, middle + half, middle - half, dry=False)


def facing_edges(axis: Axis, banks: Sequence[Bank], *, name_sides: bool) -> tuple[F8, F8] | None:
    """Return the offsets of the nearest bank on the left and right of each vertex [m].

    Each bank's outline is walked in short steps, each step is given the station of its nearest
    point of the line, and the innermost step at each station is the edge: so no ray is cast and
    none can cross another in a tight bend. Stations with no bank take their neighbours' edge; a
    side with no bank at all mirrors the other.

    Parameters
    ----------
    axis
        The line.
    banks
        Drawn banks.
    name_sides
        Whether a bank's drawn side says where it lies; else the line itself does.
    """
    edges: dict[bool, list[F8]] = {True: [], False: []}
    for bank in banks:
        station, offset = boundary_offsets(axis, bank.outline)
        if not station.size:
            continue
        named = bank.side if name_sides and bank.side is not Side.ISLAND else None
        on_left = offset > 0 if named is None else np.full(offset.shape, named is Side.LEFT)
        if named is None and name_sides:
            on_left = np.full(offset.shape, float(np.median(offset)) > 0)
        for side in (True, False):
            chosen = on_left == side
            edges[side].append(np.vstack([station[chosen], offset[chosen]]))
    left = _innermost(axis, edges[True], 1)
    right = _innermost(axis, edges[False], -1)
    if left is None and right is None:
        return None
    if left is None or right is None:
        known = left if right is None else right
        mirrored = -np.asarray(known)
        return (mirrored, np.asarray(known)) if left is None else (np.asarray(known), mirrored)
    return left, right


def boundary_offsets(axis: Axis, outline: Polygon) -> tuple[F8, F8]:
    """Return station and offset along a polygon's outline, in steps of half the axis's step."""
    ring = shapely.segmentize(outline, axis.step / 2)
    points = shapely.get_coordinates(ring)
    station, offset = axis.locate(points[:, 0], points[:, 1])
    along = (station >= 0) & (station <= axis.length)
    return station[along], offset[along]


def _innermost(axis: Axis, edges: Sequence[F8], sign: int) -> F8 | None:
    """Return the least offset outwards (times `sign`) per vertex, gaps filled, spikes removed."""
    if not edges or not sum(edge.shape[1] for edge in edges):
        return None
    station, offset = np.hstack(edges)
    bins = np.rint(station / axis.step).astype(np.int64).clip(0, len(axis.station) - 1)
    least = np.full(len(axis.station), np.inf)
    np.minimum.at(least, bins, sign * offset)
    known = np.isfinite(least)
    filled = np.interp(axis.station, axis.station[known], least[known])
    calm = median_filter(filled, size=5, mode="nearest")
    return np.asarray(sign * gaussian_filter1d(calm, 1.0, mode="nearest"))


def nearest_channel(channels: Sequence[Channel], x: F8, y: F8) -> tuple[np.ndarray, F8, F8, F8]:
    """Return for each place its channel's number, station, offset and excess in that channel.

    A place within the main channel's edges belongs to it; any other to the channel whose edge is
    nearest. Stations beyond a side channel's ends belong to the main channel.

    Parameters
    ----------
    channels
        The main channel first.
    x, y
        Places [m], one-dimensional.
    """
    owner = np.zeros(x.shape, dtype=np.int8)
    station, offset = channels[0].axis.locate(x, y)
    excess = channels[0].excess(station, offset)
    best = excess.copy()
    for number, channel in enumerate(channels[1:], start=1):
        at, off = channel.axis.locate(x, y)
        out = channel.excess(at, off)
        beyond = (at < 0) | (at > channel.axis.length)
        taken = ~beyond & (best > 0) & (out < best)
        owner[taken] = number
        station[taken], offset[taken] = at[taken], off[taken]
        excess[taken] = best[taken] = out[taken]
    return owner, station, offset, excess


def in_water(owner: np.ndarray, excess: F8, banked: B1, cell: float) -> B1:
    """Return which places the drawing shows as water when the banks were traced.

    Parameters
    ----------
    owner
        Number of each place's channel.
    excess
        How far it lies outside that channel's edge [m].
    banked
        Whether a bank polygon covers it.
    cell
        Side of a cell [m]: slivers between an outline and the edge as laid count as water.
    """
    del owner
    return ~banked & (excess <= 0.75 * cell)
