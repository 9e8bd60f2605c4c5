"""Loops of the 1-D profile and of the split that numpy cannot say."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

G = 9.80665


@njit(cache=True, error_model="numpy")
def sill_ranks(rank: IntArray, seeds: np.ndarray, rows: int) -> IntArray:
    """Return for each cell the lowest highest rank on a way from any seed to it; `rows`: none.

    A priority flood over ranks 0 to `rows` - 1, four neighbours; cells of rank `rows` stay shut.
    """
    n_row, n_col = rank.shape
    sill = np.full((n_row, n_col), rows, np.int32)
    first = np.full(rows, -1, np.int64)
    after = np.full(n_row * n_col, -1, np.int64)
    for seed in seeds:
        r, c = seed // n_col, seed % n_col
        own = rank[r, c]
        if own < rows and sill[r, c] == rows:
            sill[r, c] = own
            after[seed] = first[own]
            first[own] = seed
    for height in range(rows):
        while first[height] >= 0:
            at = first[height]
            first[height] = after[at]
            r, c = at // n_col, at % n_col
            for side in range(4):
                rr = r + (1 if side == 0 else -1 if side == 1 else 0)
                cc = c + (1 if side == 2 else -1 if side == 3 else 0)
                if rr < 0 or cc < 0 or rr >= n_row or cc >= n_col:
                    continue
                if sill[rr, cc] < rows or rank[rr, cc] >= rows:
                    continue
                reach = max(height, rank[rr, cc])
                sill[rr, cc] = reach
                to = rr * n_col + cc
                after[to] = first[reach]
                first[reach] = to
    return sill


@njit(cache=True, error_model="numpy")
def section_sums(
    node: IntArray,
    share: FloatArray,
    bed: FloatArray,
    wake: FloatArray,
    strip: FloatArray,
    ease: FloatArray,
    fall: float,
    level: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return area, conveyance, width and energy coefficient, each (sections, rows).

    A cell is a strip `strip` wide [m] that carries `ease` depth^(5/3) a metre, shared between its
    section and the next; it counts where the level stands above its `wake` [m]. The two end
    sections get cells from one side only, so theirs count twice. `fall` [m] from section to section
    is taken out of the heights. alpha = sum(k^3/a^2) A^2 / K^3.
    """
    n_section, n_row = level.shape
    area = np.zeros((n_section, n_row))
    carry = np.zeros((n_section, n_row))
    width = np.zeros((n_section, n_row))
    energy = np.zeros((n_section, n_row))
    for i in range(node.size):
        for side in range(2):
            b = node[i] + side
            part = strip[i] * (share[i] if side == 1 else 1.0 - share[i])
            if b == 0 or b == n_section - 1:
                part *= 2.0
            lift = fall * (share[i] - side)
            start = np.searchsorted(level[b], max(wake[i], bed[i]) + lift, side="right")
            for j in range(start, n_row):
                depth = level[b, j] - bed[i] - lift
                root = np.cbrt(depth)
                speed = ease[i] * root * root
                a = depth * part
                area[b, j] += a
                carry[b, j] += a * speed
                width[b, j] += part
                energy[b, j] += a * speed * speed * speed
    for b in range(n_section):
        for j in range(n_row):
            if carry[b, j] > 0:
                energy[b, j] *= area[b, j] * area[b, j] / carry[b, j] ** 3
            else:
                energy[b, j] = 1.0
    return area, carry, width, energy


@njit(cache=True, error_model="numpy")
def at_level(
    height: float,
    level: FloatArray,
    area: FloatArray,
    carry: FloatArray,
    width: FloatArray,
    energy: FloatArray,
) -> tuple[float, float, float, float]:
    """Return area, conveyance, width and energy coefficient of one section at a level.

    Straight between rows; conveyance by its 3/8 power, which is nearly straight in depth.
    """
    j = min(max(int(np.searchsorted(level, height)) - 1, 0), level.size - 2)
    share = (height - level[j]) / (level[j + 1] - level[j])
    low, high = carry[j] ** 0.375, carry[j + 1] ** 0.375
    k = max(low + share * (high - low), 0.0) ** (8.0 / 3.0)
    a = area[j] + share * (area[j + 1] - area[j])
    t = width[j] + share * (width[j + 1] - width[j])
    return a, k, t, energy[j] + share * (energy[j + 1] - energy[j])


@njit(cache=True, error_model="numpy")
def critical_level(
    flow: float,
    level: FloatArray,
    area: FloatArray,
    carry: FloatArray,
    width: FloatArray,
    energy: FloatArray,
) -> float:
    """Return the highest level at which alpha Q^2 T / (g A^3) = 1 [m]; the bottom if none."""
    top = level.size - 1
    while top > 0:
        a, t = area[top], width[top]
        if a <= 0 or energy[top] * flow * flow * t > G * a**3:
            break
        top -= 1
    if top == level.size - 1:
        return float(level[top])
    low, high = level[top], level[top + 1]
    for _ in range(50):
        middle = 0.5 * (low + high)
        a, _, t, alpha = at_level(middle, level, area, carry, width, energy)
        if a <= 0 or alpha * flow * flow * t > G * a**3:
            low = middle
        else:
            high = middle
    return float(high)


@njit(cache=True, error_model="numpy")
def standard_step(
    flow: float,
    foot: float,
    step: float,
    losses: FloatArray,
    level: FloatArray,
    area: FloatArray,
    carry: FloatArray,
    width: FloatArray,
    energy: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray]:
    """Return level, friction slope, Froude number and whether critical, each (sections,).

    Subcritical profile from the last section, where the level is `foot`, upstream: energy balance
    between neighbours, friction by the mean conveyance, `losses` of the change of velocity head
    where the river narrows [0] or widens [1] downstream. Where no subcritical level balances,
    critical.
    """
    n = level.shape[0]
    out = np.zeros(n)
    friction = np.zeros(n)
    froude = np.zeros(n)
    critical = np.zeros(n, np.bool_)
    head = 0.0
    below = 0.0
    carried = 0.0
    for i in range(n - 1, -1, -1):
        lowest = critical_level(flow, level[i], area[i], carry[i], width[i], energy[i])
        if i == n - 1:
            height = max(foot, lowest)
            critical[i] = foot < lowest
        else:
            low, high = lowest, level[i, -1]
            for _ in range(60):
                middle = 0.5 * (low + high)
                a, k, _, alpha = at_level(middle, level[i], area[i], carry[i], width[i], energy[i])
                speed_head = alpha * (flow / a) ** 2 / (2 * G)
                change = below - speed_head
                lost = losses[0] * change if change > 0 else -losses[1] * change
                if middle + speed_head < head + step * (2 * flow / (k + carried)) ** 2 + lost:
                    low = middle
                else:
                    high = middle
            height = 0.5 * (low + high)
            critical[i] = height - lowest < 1e-6
        a, k, t, alpha = at_level(height, level[i], area[i], carry[i], width[i], energy[i])
        out[i] = height
        friction[i] = (flow / k) ** 2
        froude[i] = np.sqrt(alpha * flow * flow * t / (G * a**3))
        below = alpha * (flow / a) ** 2 / (2 * G)
        head = height + below
        carried = k
    return out, friction, froude, critical


@njit(cache=True, error_model="numpy")
def flood(passable: BoolArray, reached: BoolArray) -> BoolArray:
    """Return the cells that join the `reached` ones through `passable` ones, four neighbours."""
    n_row, n_col = passable.shape
    found = np.zeros((n_row, n_col), np.bool_)
    stack = np.empty(n_row * n_col, np.int64)
    size = 0
    for r in range(n_row):
        for c in range(n_col):
            if reached[r, c] and passable[r, c]:
                found[r, c] = True
                stack[size] = r * n_col + c
                size += 1
    while size > 0:
        size -= 1
        r, c = stack[size] // n_col, stack[size] % n_col
        for side in range(4):
            rr = r + (1 if side == 0 else -1 if side == 1 else 0)
            cc = c + (1 if side == 2 else -1 if side == 3 else 0)
            if 0 <= rr < n_row and 0 <= cc < n_col and passable[rr, cc] and not found[rr, cc]:
                found[rr, cc] = True
                stack[size] = rr * n_col + cc
                size += 1
    return found
