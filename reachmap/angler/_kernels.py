"""Rays behind the angler over the tops of what stands there; plain arrays in and out."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, FloatArray


@njit(cache=True, error_model="numpy")
def room_behind(
    surface: FloatArray,
    tall: FloatArray,
    col0: FloatArray,
    row0: FloatArray,
    level: FloatArray,
    d_col: FloatArray,
    d_row: FloatArray,
    apex: FloatArray,
    rising: BoolArray,
    cell: float,
    anchor: float,
    margin: float,
    clearance: float,
    cover_low: float,
    look: float,
) -> tuple[FloatArray, FloatArray]:
    """Return the largest reach each loop has room for, and how far behind the ground is known [m].

    `surface` is ground plus cover, `tall` cover above it [m]; place i stands at (`col0`, `row0`) in
    cells, its water at `level`; its rays run along (`d_col`, `d_row`), unit vectors in cells of
    shape (n, rays). `apex[i, k]` is the height of loop k's apex above the water; `rising[k]`
    whether its lower leg rises to it from `anchor` (x < 0), or lies level at it. Both results have
    shape (n, k) and (n,); room is at most `look`. A ray enters cells in turn, exactly; the cell one
    stands in does not count.

    Something of height t at x stops a reach B unless B + margin <= x, or the leg passes over it:
    apex (x - anchor) / (B - anchor) >= t, with `clearance` added to t where cover stands.
    """
    n_row, n_col = surface.shape
    n, rays = d_col.shape
    n_loop = apex.shape[1]
    room = np.full((n, n_loop), look)
    known = np.full(n, look)
    for i in range(n):
        for j in range(rays):
            dc, dr = d_col[i, j], d_row[i, j]
            # Walk from cell border to cell border: `next_c, next_r` are the distances [m] at which
            # the ray next crosses one, `wide_c, wide_r` those from one crossing to the next.
            c, r = int(np.floor(col0[i] + 0.5)), int(np.floor(row0[i] + 0.5))
            step_c, step_r = (1 if dc > 0 else -1), (1 if dr > 0 else -1)
            next_c = ((c + 0.5 * step_c) - col0[i]) / dc * cell if dc != 0 else np.inf
            next_r = ((r + 0.5 * step_r) - row0[i]) / dr * cell if dr != 0 else np.inf
            wide_c = cell / abs(dc) if dc != 0 else np.inf
            wide_r = cell / abs(dr) if dr != 0 else np.inf
            while True:
                if next_c < next_r:
                    x = next_c
                    c += step_c
                    next_c += wide_c
                else:
                    x = next_r
                    r += step_r
                    next_r += wide_r
                if x >= look:
                    break
                if r < 0 or c < 0 or r >= n_row or c >= n_col or np.isnan(surface[r, c]):
                    known[i] = min(known[i], max(x - margin, 0.0))
                    break
                height = surface[r, c] - level[i]
                # `not (a <= b)` and never `a > b`: NaN then
                # counts as cover, as high and as in the way.
                if not (tall[r, c] <= cover_low):
                    height += clearance
                if not (height <= 0.0):
                    for k in range(n_loop):
                        if not (height <= apex[i, k]):
                            limit = max(x - margin, 0.0)
                        elif rising[k]:
                            # The docstring's condition solved for B.
                            limit = anchor + apex[i, k] * (x - anchor) / height
                        else:
                            limit = look
                        room[i, k] = min(room[i, k], limit)
    return room, known
