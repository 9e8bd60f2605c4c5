"""The swing: a line laid on the water and carried round by the computed current."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.angler._kernels_swing import (
    AGROUND,
    HANGS,
    STALLS,
    TIMEOUT,
    UNKNOWN,
    swing_lines,
)
from reachmap.angler.line import Line, lay_out
from reachmap.angler.settings import LineSettings, SwingSettings
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import SwingEnd

LEAVES = 6
"""Code of an end the line itself does not know: it is judged from the water the fly is over."""

COLUMNS = ("t", "x", "y", "z", "speed", "depth", "pull", "stretch", "angle", "bend")
"""A row of a track: seconds; place of the fly [m], z from the surface; its speed over the
ground [m/s]; depth of the water [m]; pull at the rod [N]; largest stretch; angles to the
current [rad] of the line to the fly and of its floating part."""
FOLLOWED_NODE = 4
MOST_MENDS = 3
"""Most mends of one swing."""


ENDS = {
    HANGS: SwingEnd.HANGS,
    STALLS: SwingEnd.STALLS,
    AGROUND: SwingEnd.AGROUND,
    UNKNOWN: SwingEnd.UNKNOWN,
    TIMEOUT: SwingEnd.TIMEOUT,
    LEAVES: SwingEnd.LEAVES,
}


@dataclass(frozen=True, slots=True)
class Current:
    """Current and depth as the line meets them: rasters whose rows run north, cell centres.

    On dry ground speed and depth are zero; NaN is unknown.
    """

    east: FloatArray
    north: FloatArray
    depth: FloatArray
    x0: float
    y0: float
    cell: float


@dataclass(frozen=True, slots=True)
class Throw:
    """One cast: where the rod is held, the line, and the direction it is laid out in.

    `stand` (x, y) [m]; `tip_m` height of the rod tip above the water and `reach_m` its distance
    from the angler [m]; `target_rad` from east to north; `down_rad` the direction of the current.
    `mends` are pairs of seconds after landing and sagitta of the bow [m], up the current positive;
    `fed_m` is line fed into the swing after landing [m].
    """

    stand: FloatArray
    tip_m: float
    reach_m: float
    line: Line
    target_rad: float
    down_rad: float
    mends: tuple[tuple[float, float], ...] = ()
    fed_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Swings:
    """Swings of n casts.

    `seconds` from landing to the end (NaN where unknown); `end` a code of `ENDS`; `tracks` of shape
    (n, records, columns), columns by `COLUMNS`, NaN after the end; `counts` how many rows each has.
    """

    seconds: FloatArray
    end: IntArray
    tracks: FloatArray
    counts: IntArray

    def column(self, name: str) -> FloatArray:
        """Return one column of the tracks, shape (n, records)."""
        return np.asarray(self.tracks[:, :, COLUMNS.index(name)])


def current_of(view: View) -> Current:
    """Return the current of a view."""
    east, north, depth = (_turned(view, raster) for raster in (view.east, view.north, view.depth))
    return Current(east, north, depth, float(view.grid.x[0]), float(view.grid.y[-1]), view.cell)


def _turned(view: View, raster: FloatArray) -> FloatArray:
    """Return a raster of the water with its rows running north, 0 on dry ground, NaN elsewhere."""
    made = np.full(raster.shape, np.nan)
    rows = made[::-1]
    rows[view.dry] = 0.0
    rows[view.wet_cells] = raster[view.wet_cells]
    return made


def swing_many(
    casts: Sequence[Throw], current: Current, line: LineSettings, swing: SwingSettings
) -> Swings:
    """Return the swing of each cast.

    Parameters
    ----------
    casts
        Casts, n of them.
    current
        The field they are swung in.
    line, swing
        The line's figures, and what ends a swing.

    Notes
    -----
    Lumped masses, tension-only links, drag across and along the line; the rod tip follows the line
    with a lag and stays low. Checked against theory in the tests: critical angle and shape of a
    towed cable, terminal speed, catenary.
    """
    count = len(casts)
    nodes = np.array([cast.line.mass.size for cast in casts], dtype=np.int32)
    most = int(nodes.max()) if count else 2
    rods, bows = np.zeros((count, 9)), np.zeros((count, MOST_MENDS, 2))
    padded = {name: np.zeros((count, most)) for name in ("link", "wide", "mass", "heavy", "floats")}
    afloat = np.zeros(count, dtype=np.int32)
    of_line: dict[int, list[int]] = {}
    for i, cast in enumerate(casts):
        of_line.setdefault(id(cast.line), []).append(i)
        up = -math.cos(cast.down_rad), -math.sin(cast.down_rad)
        held = cast.tip_m, cast.reach_m, line.rod_lag_s
        rods[i] = (*cast.stand, *held, *up, cast.fed_m, line.fed_s)
        for k, mend in enumerate(cast.mends[:MOST_MENDS]):
            bows[i, k] = mend
    for mine in of_line.values():  # few lines serve many casts
        one = casts[mine[0]].line
        afloat[mine] = one.afloat
        for name, rows in padded.items():
            values = getattr(one, name)
            rows[mine, : values.size] = values
    target = np.array([cast.target_rad for cast in casts])
    reach = np.array([cast.reach_m for cast in casts])
    tip = rods[:, [0, 1, 2]]
    tip[:, 0] += reach * np.cos(target)
    tip[:, 1] += reach * np.sin(target)
    places = lay_out(padded["link"][:, : most - 1], tip, target)
    tracks = np.full((count, int(line.longest_s / line.record_s) + 1, len(COLUMNS)), np.nan)
    counts, ends = np.zeros(count, dtype=np.int32), np.zeros(count, dtype=np.int32)
    swing_lines(
        places,
        nodes,
        padded["link"],
        padded["wide"],
        padded["mass"],
        padded["heavy"],
        padded["floats"],
        current.east,
        current.north,
        current.depth,
        current.x0,
        current.y0,
        current.cell,
        rods,
        bows,
        line.fly_area_m2,
        swing.profile_power,
        line.skin_drag,
        line.viscosity,
        line.step_s,
        line.longest_s,
        np.radians(swing.hang_deg),
        swing.stall_m_s,
        FOLLOWED_NODE,
        afloat,
        line.record_s,
        tracks,
        counts,
        ends,
    )
    times = tracks[np.arange(count), np.maximum(counts - 1, 0), 0]
    known = (ends != UNKNOWN) & (ends != TIMEOUT) & (counts > 0)
    return Swings(np.where(known, times, np.nan), ends, tracks, counts)


def across_speed(swings: Swings, current: Current) -> FloatArray:
    """Return the speed of the fly across the current [m/s], shape (n, records); NaN: ended."""
    x, y, t = swings.column("x"), swings.column("y"), swings.column("t")
    col = np.nan_to_num((x - current.x0) / current.cell).round().astype(int)
    row = np.nan_to_num((y - current.y0) / current.cell).round().astype(int)
    col = np.clip(col, 0, current.east.shape[1] - 1)
    row = np.clip(row, 0, current.east.shape[0] - 1)
    east, north = current.east[row, col], current.north[row, col]
    size = np.hypot(east, north)
    with np.errstate(invalid="ignore", divide="ignore"):
        vx, vy, step = (_steps(one) for one in (x, y, t))
        return np.asarray(np.abs((vy * east - vx * north) / size / step))


def _steps(values: FloatArray) -> FloatArray:
    """Return what each record gained on the one before; the first takes the second's."""
    gained = np.diff(values, axis=1)
    return np.concatenate([gained[:, :1], gained], axis=1)


def touching(swings: Swings, gap_m: float) -> BoolArray:
    """Return where the fly is on the bottom: within `gap_m` of it, shape (n, records)."""
    with np.errstate(invalid="ignore"):
        return np.asarray(swings.column("depth") + swings.column("z") <= gap_m)
