"""Density of fish: the share of their time that they spend in each cell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.angler.interception.settings import InterceptionSettings, Member
from reachmap.base.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Presence:
    """Where fish pass and lie at one flow, by cells where some do.

    Parameters
    ----------
    shape
        Rows and columns of the raster.
    cell_m
        Side of a cell [m].
    cells
        Rising indices into the raveled raster, shape (n,).
    bold, shy
        Net share of the fish that pass each cell, of those of low and of high effort exponent,
        0 to 1, shape (n,).
    lie
        Odds that a fish that comes by would hold in the cell, 0 to 1, shape (n,).
    """

    shape: tuple[int, int]
    cell_m: float
    cells: IntArray
    bold: FloatArray
    shy: FloatArray
    lie: FloatArray

    @classmethod
    def of_dataset(cls, held: xr.Dataset) -> Presence:
        """Return what the water stage stored."""
        rows, cols = held.attrs["shape"]
        names = ("bold", "shy", "lie")
        bold, shy, lie = (held[name].to_numpy().astype(np.float64) for name in names)
        cells = held["cell"].to_numpy().astype(np.int32)
        return cls((int(rows), int(cols)), float(held.attrs["cell_m"]), cells, bold, shy, lie)


def fish_time(
    presence: Presence, member: Member, settings: InterceptionSettings
) -> tuple[FloatArray, FloatArray]:
    """Return the shares of the fish's time of one reading; see `fish_times`."""
    return fish_times(presence, [member], settings)[0]


def fish_times(
    presence: Presence, members: Sequence[Member], settings: InterceptionSettings
) -> list[tuple[FloatArray, FloatArray]]:
    """Return the shares of the fish's time that they spend passing and holding in each cell.

    Parameters
    ----------
    presence
        Where they pass and lie.
    members
        Readings: how long they hold, and how many keep to slack water.
    settings
        Which lies they find.

    Returns
    -------
    list of passing, holding
        For each member; shape (n,), together 1 over all cells; all 0 where no fish passes and none
        lies.

    Notes
    -----
    A fish passes at an even pace over ground, so that its time in a cell goes with how many pass.
    It holds where lies are good and fish come by: an even share of those in lies comes there
    by any route. Without a lie anywhere all time is passing. Our choice.
    """
    squares = _Squares.of(presence, settings.near_m)
    weights = {}
    for shy in {member.shy for member in members}:  # most readings differ in how long they hold
        passes = (1.0 - shy) * presence.bold + shy * presence.shy
        near = squares.mean(passes)
        mean = float(near.mean()) if near.size else 0.0
        come = settings.even_share + (1.0 - settings.even_share) * (
            near / mean if mean > 0 else 1.0
        )
        weights[shy] = passes, presence.lie * come
    return [_shares(*weights[member.shy], member.hold_share) for member in members]


def _shares(
    passes: FloatArray, holding: FloatArray, hold_share: float
) -> tuple[FloatArray, FloatArray]:
    """Return the weights of passing and holding as shares of the fish's time."""
    hold, total = float(holding.sum()), float(passes.sum())
    share = hold_share if hold > 0 and total > 0 else float(hold > 0)
    passing = passes * ((1.0 - share) / total) if total > 0 else np.zeros_like(passes)
    return passing, holding * (share / hold) if hold > 0 else np.zeros_like(passes)


def near_passage(presence: Presence, passes: FloatArray, square_m: float) -> FloatArray:
    """Return the mean passage of the square about each cell and the eight around it, shape (n,)."""
    return _Squares.of(presence, square_m).mean(passes)


@dataclass(frozen=True, slots=True)
class _Squares:
    """The squares that cells lie in: the number of each cell's, and the nine about each square.

    `nine` pairs the numbers of neighbours, shape (squares,), with whether there is one.
    """

    where: IntArray
    nine: tuple[tuple[IntArray, BoolArray], ...]

    @classmethod
    def of(cls, presence: Presence, square_m: float) -> _Squares:
        """Return the squares of `square_m` [m] over the cells where fish are."""
        size = max(round(square_m / presence.cell_m), 1)
        row, col = np.divmod(presence.cells, presence.shape[1])
        wide = -(-presence.shape[1] // size) + 2
        block = (row // size + 1).astype(np.int64) * wide + col // size + 1
        own, where = np.unique(block, return_inverse=True)
        nine = []
        for step in (d_row * wide + d_col for d_row in (-1, 0, 1) for d_col in (-1, 0, 1)):
            at = np.minimum(np.searchsorted(own, own + step), max(own.size - 1, 0))
            nine.append((at.astype(np.int32), own[at] == own + step))
        return cls(where.astype(np.int32), tuple(nine))

    def mean(self, passes: FloatArray) -> FloatArray:
        """Return the mean over the cells of the nine squares about each cell, shape (n,)."""
        total, count = np.bincount(self.where, passes), np.bincount(self.where).astype(np.float64)
        sums, counts = np.zeros(total.size), np.zeros(total.size)
        for at, there in self.nine:
            sums += np.where(there, total[at], 0.0)
            counts += np.where(there, count[at], 0.0)
        return np.asarray((sums / np.maximum(counts, 1.0))[self.where])
