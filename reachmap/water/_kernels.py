"""Compiled loops over wet cells: looking across the flow, and the change of speed across it."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray

OPEN, BANK, ISLAND, UNKNOWN = 0, 1, 2, 3
"""Codes of what a cell is for one who looks across the water."""


@njit(cache=True, error_model="numpy")
def look_across(
    code: CodeArray,
    depth: FloatArray,
    d_row: FloatArray,
    d_col: FloatArray,
    carry_row: FloatArray,
    carry_col: FloatArray,
    speed: FloatArray,
    rows: IntArray,
    cols: IntArray,
    n_steps: int,
) -> tuple[FloatArray, FloatArray, CodeArray, FloatArray, FloatArray, IntArray]:
    """Look along +-(d_row, d_col) from each cell until the water ends.

    `code` is OPEN, BANK, ISLAND or UNKNOWN; `d_row, d_col` the unit vector across the flow;
    `carry_row, carry_col` the discharge per width as a vector of the raster [m2/s]. Steps are half
    cells, `n_steps` at most. Returns per cell of `rows, cols`: gaps either way [cells], both end
    codes, the largest speed met, the discharge through the section [m2/s cells], and the row and
    column of the largest discharge per width.
    """
    n = rows.size
    n_row, n_col = code.shape
    gaps = np.zeros((2, n))
    ends = np.full((2, n), UNKNOWN, dtype=np.uint8)
    quickest = np.zeros(n)
    through = np.zeros(n)
    deepest = np.zeros((2, n), dtype=np.int32)
    for i in range(n):
        row, col = rows[i], cols[i]
        # across (a, b) -> along (-b, a): sign is of no account, the larger sum is taken
        a, b = d_row[row, col], d_col[row, col]
        total, best, quick = 0.0, -1.0, 0.0
        for way in range(2):
            sign = 1.0 if way == 0 else -1.0
            for step in range(n_steps + 1):
                r = round(row + sign * a * 0.5 * step)
                c = round(col + sign * b * 0.5 * step)
                if r < 0 or c < 0 or r >= n_row or c >= n_col:
                    break
                if code[r, c] != OPEN:
                    ends[way, i] = code[r, c]
                    break
                gaps[way, i] = 0.5 * step
                if np.isnan(depth[r, c]):
                    continue
                flow = -b * carry_row[r, c] + a * carry_col[r, c]
                # The cell itself is met both ways and counts once; steps are half cells, hence 0.5.
                if step > 0 or way == 0:
                    total += 0.5 * flow
                size = abs(flow)
                if size > best:
                    best = size
                    deepest[0, i], deepest[1, i] = r, c
                quick = max(quick, speed[r, c])
        quickest[i], through[i] = quick, abs(total)
    return gaps[0], gaps[1], ends, quickest, through, deepest


@njit(cache=True, error_model="numpy")
def _at(field: FloatArray, row: float, col: float) -> float:
    """Return the field between cells, bilinear; NaN where any cell that counts is NaN."""
    n_row, n_col = field.shape
    r, c = int(np.floor(row)), int(np.floor(col))
    if r < 0 or c < 0 or r + 1 >= n_row or c + 1 >= n_col:
        return np.nan
    fr, fc = row - r, col - c
    total = 0.0
    for dr in range(2):
        for dc in range(2):
            weight = (fr if dr else 1 - fr) * (fc if dc else 1 - fc)
            # A corner without weight may be NaN: a place right
            # on a wet cell is known, whatever lies beside.
            if weight > 1e-9:
                total += weight * field[r + dr, c + dc]
    return total


@njit(cache=True, error_model="numpy")
def _along_speed(
    u_row: FloatArray, u_col: FloatArray, row: float, col: float, a: float, b: float, reach: int
) -> float:
    """Return the speed along the flow, a mean over `reach` cells up and down; (a, b) is across."""
    total, n = 0.0, 0
    for k in range(-reach, reach + 1):
        r, c = row - b * k, col + a * k
        value = -b * _at(u_row, r, c) + a * _at(u_col, r, c)
        if not np.isnan(value):
            total += value
            n += 1
        elif k == 0:
            return np.nan
    return total / n


@njit(cache=True, error_model="numpy")
def change_across(
    u_row: FloatArray,
    u_col: FloatArray,
    d_row: FloatArray,
    d_col: FloatArray,
    rows: IntArray,
    cols: IntArray,
    reach: int,
) -> FloatArray:
    """Return the change of along-flow speed per cell across the flow, towards (d_row, d_col).

    Fourth-order central differences where all four neighbours are wet, second-order where two are,
    NaN elsewhere. The speed is averaged along the flow only, so that a seam keeps its thickness.
    """
    n = rows.size
    out = np.full(n, np.nan)
    for i in range(n):
        row, col = rows[i], cols[i]
        a, b = d_row[row, col], d_col[row, col]
        near = _along_speed(u_row, u_col, row + a, col + b, a, b, reach) - _along_speed(
            u_row, u_col, row - a, col - b, a, b, reach
        )
        far = _along_speed(u_row, u_col, row + 2 * a, col + 2 * b, a, b, reach) - _along_speed(
            u_row, u_col, row - 2 * a, col - 2 * b, a, b, reach
        )
        # Differences over two and four cells: (8 near - far) / 12 is the five-point formula.
        out[i] = near / 2 if np.isnan(far) else (8 * near - far) / 12
    return out


@njit(cache=True, error_model="numpy")
def ridge(
    size: FloatArray,
    d_row: FloatArray,
    d_col: FloatArray,
    rows: IntArray,
    cols: IntArray,
    least: float,
) -> tuple[BoolArray, FloatArray]:
    """Return which cells are the crest of `size` across the flow, and how far off the crest lies.

    The shift [cells, towards (d_row, d_col)] is the top of the parabola through the three values.
    """
    n = rows.size
    crest = np.zeros(n, dtype=np.bool_)
    shift = np.zeros(n)
    for i in range(n):
        row, col = rows[i], cols[i]
        here = size[row, col]
        if not here >= least:
            continue
        a, b = d_row[row, col], d_col[row, col]
        up, down = _at(size, row + a, col + b), _at(size, row - a, col - b)
        if np.isnan(up) or np.isnan(down) or here < up or here < down:
            continue
        crest[i] = True
        bend = up - 2 * here + down
        if bend < 0:
            shift[i] = min(max(0.5 * (down - up) / bend, -0.5), 0.5)
    return crest, shift


@njit(cache=True, error_model="numpy")
def both_sides(
    u_row: FloatArray,
    u_col: FloatArray,
    depth: FloatArray,
    change: FloatArray,
    d_row: FloatArray,
    d_col: FloatArray,
    rows: IntArray,
    cols: IntArray,
    n_steps: int,
    reach: int,
    calm: float,
    depth_low: float,
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return the speeds of the two currents a crest parts, and whether the slower one stands alone.

    From the crest to either side until the change of speed falls to a twentieth of its peak, turns,
    or the water ends: that speed counts. The slower current stands alone where the change falls to
    `calm` of its peak in water at least `depth_low` deep, or where such water runs back: at the rim
    of a bank it does neither. An eddy may be too narrow for its change of speed to be known as far
    as it falls, since a cell beside the bank has water on one side alone.
    """
    n = rows.size
    fast, slow = np.full(n, np.nan), np.full(n, np.nan)
    alone = np.zeros(n, dtype=np.bool_)
    for i in range(n):
        row, col = rows[i], cols[i]
        peak = abs(change[row, col])
        # Way 0 goes towards quicker water: the side to which the speed grows.
        sign = 1.0 if change[row, col] > 0 else -1.0
        for way in range(2):
            side = sign if way == 0 else -sign
            a, b = d_row[row, col], d_col[row, col]
            last, before = np.nan, peak
            for step in range(1, n_steps + 1):
                r, c = row + side * a * step, col + side * b * step
                value = _along_speed(u_row, u_col, r, c, a, b, reach)
                if np.isnan(value):
                    break
                last = value
                slope = sign * _at(change, r, c)
                deep = way == 1 and _at(depth, r, c) >= depth_low
                if deep and value < 0.0:
                    alone[i] = True
                if np.isnan(slope):
                    break
                if deep and slope <= calm * peak:
                    alone[i] = True
                # A change that grows again, after it had sunk below half, belongs to the next seam.
                if slope <= 0.05 * peak or (slope > before and slope < 0.5 * peak):
                    break
                before = slope
            if way == 0:
                fast[i] = last
            else:
                slow[i] = last
    return fast, slow, alone
