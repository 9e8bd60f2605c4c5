"""Density of fish: the share of their time that they spend in each cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.angler.interception.settings import InterceptionSettings, Member
from reachmap.base.arrays import FloatArray, IntArray


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
    """Return the shares of the fish's time that they spend passing and holding in each cell.

    Parameters
    ----------
    presence
        Where they pass and lie.
    member
        How long they hold, and how many keep to slack water.
    settings
        Which lies they find.

    Returns
    -------
    passing, holding
        Shape (n,), together 1 over all cells; all 0 where no fish passes and none lies.

    Notes
    -----
    A fish passes at an even pace over ground, so that its time in a cell goes with how many pass.
    It holds where lies are good and fish come by: an even share of those in lies comes there
    by any route. Without a lie anywhere all time is passing. Our choice.
    """
    passes = (1.0 - member.shy) * presence.bold + member.shy * presence.shy
    near = near_passage(presence, passes, settings.near_m)
    mean = float(near.mean()) if near.size else 0.0
    come = settings.even_share + (1.0 - settings.even_share) * (near / mean if mean > 0 else 1.0)
    holding = presence.lie * come
    hold, total = float(holding.sum()), float(passes.sum())
    share = member.hold_share if hold > 0 and total > 0 else float(hold > 0)
    passing = passes * ((1.0 - share) / total) if total > 0 else np.zeros_like(passes)
    return passing, holding * (share / hold) if hold > 0 else np.zeros_like(passes)


def near_passage(presence: Presence, passes: FloatArray, square_m: float) -> FloatArray:
    """Return the mean passage of the square about each cell and the eight around it, shape (n,)."""
    size = max(round(square_m / presence.cell_m), 1)
    row, col = np.divmod(presence.cells, presence.shape[1])
    wide = -(-presence.shape[1] // size) + 2
    block = (row // size + 1).astype(np.int64) * wide + col // size + 1
    own, where = np.unique(block, return_inverse=True)
    total, count = np.bincount(where, passes), np.bincount(where).astype(np.float64)
    sums, counts = np.zeros(own.size), np.zeros(own.size)
    for step in (d_row * wide + d_col for d_row in (-1, 0, 1) for d_col in (-1, 0, 1)):
        at = np.minimum(np.searchsorted(own, own + step), max(own.size - 1, 0))
        there = own[at] == own + step
        sums += np.where(there, total[at], 0.0)
        counts += np.where(there, count[at], 0.0)
    return np.asarray((sums / np.maximum(counts, 1.0))[where])
