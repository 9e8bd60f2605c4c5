"""The cells that the casts from each place cover, with the seconds of good view a fish gets there.

The angler steps down a bank and swings at every step. A cast covers its track widened by a disc of
the fish's view; the casts of one place are its track moved along the bank.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.grid import Grid

DISC = np.array([[0.0, 0.0], *([np.cos(a), np.sin(a)] for a in np.arange(5) * 2 * np.pi / 5)])
"""Directions of six points that stand for a disc, the first in its middle; see `_disc`."""

LEAST = 0.02
"""Moments of less quality than this are left out; our choice, 0-0.05."""

PLACES = 64
"""Places whose casts are laid over the raster at once: some 10 MB."""


@dataclass(frozen=True, slots=True)
class Tracks:
    """Swings of n places, at records of even time.

    Parameters
    ----------
    x, y
        Where the fly is [m], shape (n, records); NaN after the end.
    quality
        How well it fishes there, 0 to 1, same shape.
    record_s
        Time between records [s].
    down
        Unit vectors along the current abreast of each place, shape (n, 2): which way one steps.
    """

    x: FloatArray
    y: FloatArray
    quality: FloatArray
    record_s: float
    down: FloatArray


@dataclass(frozen=True, slots=True)
class Swept:
    """Cells covered from each place, as a list by rising place, then cell.

    Parameters
    ----------
    place, cell
        Number of the place, and the cell as an index into the raveled raster, shape (m,).
    seconds
        Seconds of good view that a fish in the cell gets over all casts of the place [s], (m,).
    count
        How many places there are.
    """

    place: IntArray
    cell: IntArray
    seconds: FloatArray
    count: int

    def of(self, places: IntArray) -> Swept:
        """Return the part covered from some places, by their numbers in that list."""
        first, last = (np.searchsorted(self.place, at) for at in (places, places + 1))
        parts = [slice(int(a), int(b)) for a, b in zip(first, last, strict=True)]
        if not parts:
            return no_swept()
        which = [np.full(p.stop - p.start, k, dtype=np.int32) for k, p in enumerate(parts)]
        return Swept(
            np.concatenate(which),
            np.concatenate([self.cell[part] for part in parts]),
            np.concatenate([self.seconds[part] for part in parts]),
            len(parts),
        )

    def to_dataset(self) -> xr.Dataset:
        """Return it as a Dataset to be stored."""
        return xr.Dataset(
            {
                "place": ("swath", self.place),
                "cell": ("swath", self.cell),
                "seconds": ("swath", self.seconds.astype(np.float32)),
            },
            attrs={"count": self.count},
        )

    @classmethod
    def of_dataset(cls, held: xr.Dataset) -> Swept:
        """Return what `to_dataset` made."""
        return cls(
            held["place"].to_numpy().astype(np.int32),
            held["cell"].to_numpy().astype(np.int32),
            held["seconds"].to_numpy().astype(np.float64),
            int(held.attrs["count"]),
        )


def no_swept() -> Swept:
    """Return an empty `Swept`."""
    none = np.zeros(0, dtype=np.int32)
    return Swept(none, none, np.zeros(0), 0)


def swept_cells(
    tracks: Tracks, grid: Grid, radius_m: float, *, bank_m: float, step_m: float
) -> Swept:
    """Return the cells covered from each place.

    Parameters
    ----------
    tracks
        One swing from each place.
    grid
        The raster.
    radius_m
        How near the fly must pass a fish [m], > 0.
    bank_m
        Bank that one place stands for [m], over which its casts are spread.
    step_m
        Step between casts [m], > 0.

    Notes
    -----
    Each moment gives the fish within the disc its seconds; over a cell of area A that is
    t pi r^2 / A a fish, spread over the cells the disc touches. So the seconds do not depend on the
    size of the cells as long as fish are evenly spread within them.
    """
    count = int(tracks.x.shape[0])
    casts = max(round(bank_m / step_m), 1)
    parts = []
    for first in range(0, count, PLACES):
        part = slice(first, first + PLACES)
        x, y, quality, down = tracks.x, tracks.y, tracks.quality, tracks.down
        own = Tracks(x[part], y[part], quality[part], tracks.record_s, down[part])
        one = _cells_of(own, grid, radius_m, casts=casts, bank_m=bank_m)
        parts.append((one.place + np.int32(first), one.cell, one.seconds))
    if not parts:
        return no_swept()
    place, cell, seconds = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Swept(place, cell, seconds, count)


def _cells_of(tracks: Tracks, grid: Grid, radius_m: float, *, casts: int, bank_m: float) -> Swept:
    """Return what `swept_cells` does, all places at once."""
    shift = (np.arange(casts) + 0.5) / casts * bank_m - 0.5 * bank_m
    place, record = np.nonzero(np.nan_to_num(tracks.quality) > LEAST)
    known = np.isfinite(tracks.x[place, record])
    place, record = place[known], record[known]
    share = tracks.quality[place, record] * tracks.record_s
    disc = _disc(radius_m)
    x = tracks.x[place, record][:, None] + shift * tracks.down[place, 0][:, None]
    y = tracks.y[place, record][:, None] + shift * tracks.down[place, 1][:, None]
    x, y = x[..., None] + disc[:, 0], y[..., None] + disc[:, 1]
    row, col, inside = grid.index(x.ravel(), y.ravel())
    cell = row * np.int64(grid.shape[1]) + col
    each = np.broadcast_to(share[:, None, None], x.shape).ravel()
    key = np.broadcast_to(place[:, None, None].astype(np.int64), x.shape).ravel()
    key = (key * (grid.shape[0] * np.int64(grid.shape[1])) + cell)[inside]
    found, where = np.unique(key, return_inverse=True)
    per_point = np.pi * radius_m**2 / grid.cell**2 / len(disc)
    seconds = per_point * np.bincount(where, each[inside], minlength=found.size)
    size = grid.shape[0] * np.int64(grid.shape[1])
    return Swept(
        (found // size).astype(np.int32),
        (found % size).astype(np.int32),
        seconds.astype(np.float64),
        int(tracks.x.shape[0]),
    )


def _disc(radius_m: float) -> FloatArray:
    """Return six points that stand for a disc, each for a sixth of its area: (6, 2) [m].

    The mean square distance from the middle is that of the disc, r^2 / 2: five points at
    r sqrt(3/5) and one in the middle.
    """
    return np.asarray(DISC * radius_m * np.sqrt(0.6))
