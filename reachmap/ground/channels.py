"""Channels: lines centred between the drawn banks, with the offsets of the water's edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.ndimage import distance_transform_edt, gaussian_filter1d
from shapely import Polygon

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.errors import BuildError, Fault
from reachmap.base.words import Part, Side
from reachmap.ground.bank_offsets import bank_offsets, bounding, without_gaps
from reachmap.ground.profiles import smoothed_along
from reachmap.markup.model import Bank, Markup, River

CENTRING_ROUNDS, SIDE_ROUNDS = 5, 3
"""How often a line is moved to the middle; each round meets the banks anew (our choice). A side
channel's is kept nearer to the drawn one: its mouths face no bank."""

DRY_SIDE_SHARE = 0.25
"""Width of a side channel drawn across dry ground, as a share of the main width (our choice)."""

LEAST_HALF_WIDTH_M = 1.0
"""A channel narrower than twice this cannot be laid [m] (our choice)."""

FACED_SHARE = 0.2
"""Least share of a side channel that must run between two banks to take its width from them."""


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel of the river.

    Parameters
    ----------
    name
        As drawn.
    part
        Main or side.
    line
        Centred between the banks; its widths are those between `left` and `right`.
    left, right
        Offsets of the water's edges as drawn, at each vertex of the line [m]; `right` < `left`.
    dry
        Whether it was drawn across ground that was dry when the banks were traced.
    """

    name: str
    part: Part
    line: Centreline
    left: FloatArray
    right: FloatArray
    dry: bool

    @property
    def width(self) -> FloatArray:
        """Return the width between the banks at each vertex [m]."""
        return self.left - self.right

    @property
    def median_width(self) -> float:
        """Return the median width [m]."""
        return float(np.median(self.width))

    def excess(self, station: FloatArray, offset: FloatArray) -> FloatArray:
        """Return how far places lie outside the drawn water's edge [m]; negative within it."""
        left = np.interp(station, self.line.station, self.left)
        right = np.interp(station, self.line.station, self.right)
        return np.maximum(offset - left, right - offset)

    def outline(self) -> Polygon:
        """Return the water between the drawn banks as a polygon, mended where bends fold it."""
        lx, ly = self.line.from_station_offset(self.line.station, self.left)
        rx, ry = self.line.from_station_offset(self.line.station, self.right)
        ring = np.column_stack([np.r_[lx, rx[::-1]], np.r_[ly, ry[::-1]]])
        return shapely.make_valid(Polygon(ring))


def nearest_channel(
    channels: Sequence[Channel], x: FloatArray, y: FloatArray
) -> tuple[np.ndarray, FloatArray, FloatArray, FloatArray]:
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
    station, offset = channels[0].line.to_station_offset(x, y)
    excess = channels[0].excess(station, offset)
    best = excess.copy()
    for number, channel in enumerate(channels[1:], start=1):
        at, off = channel.line.to_station_offset(x, y)
        out = channel.excess(at, off)
        beyond = (at < 0) | (at > channel.line.length)
        taken = ~beyond & (best > 0) & (out < best)
        owner[taken] = number
        station[taken], offset[taken] = at[taken], off[taken]
        excess[taken] = best[taken] = out[taken]
    return owner, station, offset, excess


def make_channels(markup: Markup, step: float) -> tuple[Channel, ...]:
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
    main = main_channel(markup.rivers, markup.banks, step)
    sides = [
        _side_channel(river, markup.banks, step, main.median_width)
        for river in markup.rivers
        if river.part is Part.SIDE
    ]
    return (main, *sides)


def main_channel(rivers: Sequence[River], banks: Sequence[Bank], step: float) -> Channel:
    """Return the main channel, centred between the banks that bound it.

    Parameters
    ----------
    rivers, banks
        As drawn.
    step
        Spacing of the vertices [m].

    Raises
    ------
    BuildError
        If no bank was drawn along the main line.
    """
    river = next(one for one in rivers if one.part is Part.MAIN)
    main = _main_channel(river, _that_bound_the_main(rivers, banks), step)
    if main is None:
        found, fix = "no bank polygon lies beside it", "Draw at least one bank along the river"
        raise BuildError([Fault(f"river {river.name!r}", found, f"{fix}, with its side")])
    return main


def _that_bound_the_main(rivers: Sequence[River], banks: Sequence[Bank]) -> tuple[Bank, ...]:
    """Return the banks that bound the main channel.

    An island does where a side line is drawn past it; one that stands in the river with no side
    line beside it lies within the main channel, whose sections it parts in two.
    """
    sides = [river.line for river in rivers if river.part is Part.SIDE]
    return tuple(
        bank
        for bank in banks
        if bank.side is not Side.ISLAND
        or any(line.distance(bank.outline) < _breadth(bank) for line in sides)
    )


def _breadth(bank: Bank) -> float:
    """Return the breadth of a polygon: area over half the length of its outline [m]."""
    return float(bank.outline.area / (bank.outline.length / 2))


def _main_channel(river: River, banks: Sequence[Bank], step: float) -> Channel | None:
    """Return the main channel between the banks that face its line; None where there are none."""
    line = Centreline.along(river.line, step)
    found = without_gaps(line, main_edges(line, banks))
    if found is None:
        return None
    line = smoothed(line, float(np.median(found[0] - found[1])) / 4)
    for _ in range(CENTRING_ROUNDS):
        edges = main_edges(line, banks)
        found = without_gaps(line, edges)
        if found is None:
            return None
        width = float(np.median(found[0] - found[1]))
        line = moved_sideways(line, _to_the_middle(line, edges, width), width / 4)
    found = without_gaps(line, main_edges(line, banks))
    if found is None:
        return None
    middle, half = (found[0] + found[1]) / 2, (found[0] - found[1]) / 2
    half = np.maximum(half, LEAST_HALF_WIDTH_M)
    return Channel(river.name, river.part, line, middle + half, middle - half, dry=False)


def main_edges(line: Centreline, banks: Sequence[Bank]) -> tuple[FloatArray, FloatArray]:
    """Return the offsets of the banks that bound the main channel [m]; NaN where none does."""
    return bounding(line, bank_offsets(line, banks, name_sides=True))


def _to_the_middle(
    line: Centreline, edges: tuple[FloatArray, FloatArray], width: float
) -> FloatArray:
    """Return how far each vertex lies from the middle between two banks [m], positive to the left.

    Where a bank is missing the middle is not known and the line stays as drawn; over one usual
    `width` [m] from where both are it eases from the one to the other.
    """
    middle = (edges[0] + edges[1]) / 2
    known = np.isfinite(middle)
    if not known.any():
        return np.zeros(len(line.station))
    away = distance_transform_edt(~known) * line.step
    shift = np.interp(line.station, line.station[known], middle[known])
    return np.asarray(shift * np.clip(1 - away / width, 0, 1))


def _side_channel(river: River, banks: Sequence[Bank], step: float, main_width: float) -> Channel:
    """Return a side channel: between its banks, or of usual width across dry ground.

    Only where two banks face each other is the line moved; at its mouths, open to the main river,
    it stays as drawn and keeps its usual width.
    """
    line = Centreline.along(river.line, step)
    left, right, faced = _faced(line, banks)
    dry = bool(_covered(line, banks).mean() > 0.5)
    if dry or faced.mean() < FACED_SHARE:
        broad = max(DRY_SIDE_SHARE * main_width / 2, LEAST_HALF_WIDTH_M)
        line = smoothed(line, broad)
        half = np.full(line.x.shape, broad)
        return Channel(river.name, river.part, line, half, -half, dry=dry)
    usual = float(np.median((left - right)[faced]))
    line = smoothed(line, usual / 4)
    for _ in range(SIDE_ROUNDS):
        left, right, faced = _faced(line, banks)
        shift = np.where(faced, np.clip((left + right) / 2, -usual / 2, usual / 2), 0.0)
        line = moved_sideways(line, shift, usual / 2)
    left, right, faced = _faced(line, banks)
    usual = float(np.median((left - right)[faced])) if faced.any() else usual
    left, right = np.where(faced, left, usual / 2), np.where(faced, right, -usual / 2)
    edges = without_gaps(line, (left, right)) or (left, right)
    return Channel(river.name, river.part, line, edges[0], edges[1], dry=False)


def _covered(line: Centreline, banks: Sequence[Bank]) -> BoolArray:
    """Return which vertices lie within a bank."""
    places = shapely.points(line.x, line.y)
    covered = np.zeros(len(places), dtype=bool)
    for bank in banks:
        covered |= shapely.contains(bank.outline, places)
    return covered


def _faced(line: Centreline, banks: Sequence[Bank]) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return the edges of a side channel, and at which vertices two banks face each other."""
    left, right = bank_offsets(line, banks, name_sides=False)
    wide = left - right
    faced = np.isfinite(wide) & ~_covered(line, banks) & (wide > 2 * LEAST_HALF_WIDTH_M)
    if faced.any():
        faced &= wide < 3 * np.median(wide[faced])
    return left, right, faced


def smoothed(line: Centreline, length: float) -> Centreline:
    """Return the line smoothed by a Gaussian of standard length `length` [m]; its ends stay."""
    sigma = length / line.step
    return Centreline.through(
        smoothed_along(line.x, sigma), smoothed_along(line.y, sigma), line.step
    )


def moved_sideways(line: Centreline, shift: FloatArray, smooth_m: float) -> Centreline:
    """Return the line with each vertex moved by `shift` [m] to river left, smoothed along."""
    calm = gaussian_filter1d(shift, smooth_m / line.step, mode="nearest")
    return Centreline.through(*line.from_station_offset(line.station, calm), line.step)
