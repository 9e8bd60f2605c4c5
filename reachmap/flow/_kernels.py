"""Compiled kernels of the 1-D profile: sills, sections and the standard step."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numba import njit

from reachmap.base._kernels_resistance import shallow_excess
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.physics import GRAVITY

if TYPE_CHECKING:
    from reachmap.flow.sections import SectionTables


class Strips(NamedTuple):
    """Cells as strips of their sections; arrays of shape (cells,).

    Parameters
    ----------
    section, share
        Section at or above each cell, and how much of the cell belongs to the one below it, 0 to 1.
    bed, flood_level
        Height of the ground, and level at which water reaches the cell [m].
    width
        Of the strip [m].
    conductance
        What it carries in deep water: times depth^(5/3) the conveyance a metre [s/m^(1/3)].
    stone_term
        Of the stones there (`base.resistance`) [m^(5/3)]; 0: none.
    """

    section: IntArray
    share: FloatArray
    bed: FloatArray
    flood_level: FloatArray
    width: FloatArray
    conductance: FloatArray
    stone_term: FloatArray


@njit(cache=True, error_model="numpy")
def sill_ranks(rank: IntArray, neighbours: IntArray, seeds: np.ndarray, rows: int) -> IntArray:
    """Return for each cell the lowest highest rank on a way from any seed to it; `rows`: none.

    A priority flood over ranks 0 to `rows` - 1; cells of rank `rows` stay shut. `neighbours` are
    the four of each cell, -1 for none, shape (cells, 4).
    """
    sill = np.full(rank.size, rows, np.int32)
    # Buckets, one a rank, as linked lists: `first[rank]` is the newest cell, `after[cell]` the
    # next. Ranks are whole numbers, so no heap is needed.
    first = np.full(rows, -1, np.int64)
    after = np.full(rank.size, -1, np.int64)
    for seed in seeds:
        own = rank[seed]
        if own < rows and sill[seed] == rows:
            sill[seed] = own
            after[seed] = first[own]
            first[own] = seed
    for height in range(rows):
        while first[height] >= 0:
            at = first[height]
            first[height] = after[at]
            for side in range(4):
                to = neighbours[at, side]
                if to < 0 or sill[to] < rows or rank[to] >= rows:
                    continue
                # A way is as high as the highest cell on it.
                reach = max(height, rank[to])
                sill[to] = reach
                after[to] = first[reach]
                first[reach] = to
    return sill


@njit(cache=True, error_model="numpy")
def square_sums(
    number: IntArray, rows: IntArray, cols: IntArray, values: FloatArray, reach: int
) -> FloatArray:
    """Return sums over the square of `reach` cells about each of n cells, shape (n, fields).

    `number` is the place of each cell of the raster in `values`, shape (cells, fields), -1 where it
    has none and counts nothing. Off the raster its outermost cells count again.
    """
    n_row, n_col = number.shape
    sums = np.zeros((rows.size, values.shape[1]))
    for i in range(rows.size):
        for down in range(-reach, reach + 1):
            r = min(max(rows[i] + down, 0), n_row - 1)
            for right in range(-reach, reach + 1):
                at = number[r, min(max(cols[i] + right, 0), n_col - 1)]
                if at >= 0:
                    for k in range(values.shape[1]):
                        sums[i, k] += values[at, k]
    return sums


@njit(cache=True, error_model="numpy")
def rows_below(level: FloatArray, height: float) -> int:
    """Return how many of some rising levels lie below a height; all where it is NaN.

    As np.searchsorted, side "left", which compiles longer than the kernels that ask for it.
    """
    low, high = 0, level.size
    while low < high:
        middle = (low + high) // 2
        if level[middle] >= height:
            high = middle
        else:
            low = middle + 1
    return low


@njit(cache=True, error_model="numpy")
def rows_up_to(level: FloatArray, height: float) -> int:
    """Return how many of some rising levels lie at or below a height; all where it is NaN.

    As np.searchsorted, side "right".
    """
    low, high = 0, level.size
    while low < high:
        middle = (low + high) // 2
        if level[middle] > height:
            high = middle
        else:
            low = middle + 1
    return low


@njit(cache=True, error_model="numpy")
def section_sums(
    strips: Strips, fall: float, level: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return area, conveyance, width and energy coefficient, each (sections, rows).

    Parameters
    ----------
    strips
        The cells; each is shared between its section and the next. The two end sections get cells
        from one side only, so theirs count twice.
    fall
        Of the river from section to section, taken out of the heights [m].
    level
        Water level of each row, shape (sections, rows) [m].

    Notes
    -----
    alpha = sum(k^3/a^2) A^2 / K^3 with a and k area and conveyance of a strip.
    """
    n_section, n_row = level.shape
    area = np.zeros((n_section, n_row))
    conveyance = np.zeros((n_section, n_row))
    width = np.zeros((n_section, n_row))
    energy = np.zeros((n_section, n_row))
    for i in range(strips.section.size):
        bed, share = strips.bed[i], strips.share[i]
        for side in range(2):
            b = strips.section[i] + side
            part = strips.width[i] * (share if side == 1 else 1.0 - share)
            if b == 0 or b == n_section - 1:
                part *= 2.0
            # The cell is moved to the section's station along the river's fall: up by share x fall
            # to the section above it (side 0), down by the rest to the one below (side 1).
            lift = fall * (share - side)
            start = rows_up_to(level[b], max(strips.flood_level[i], bed) + lift)
            for j in range(start, n_row):
                depth = level[b, j] - bed - lift
                # depth^(2/3), which with the depth in `a` is the depth^(5/3) of Manning's formula
                # for wide, shallow water.
                root = np.cbrt(depth)
                speed = strips.conductance[i] * root * root
                if strips.stone_term[i] > 0.0:
                    speed /= np.sqrt(1.0 + shallow_excess(strips.stone_term[i], depth, root))
                a = depth * part
                area[b, j] += a
                conveyance[b, j] += a * speed
                width[b, j] += part
                # k^3 / a^2 with k = a speed.
                energy[b, j] += a * speed * speed * speed
    for b in range(n_section):
        for j in range(n_row):
            if conveyance[b, j] > 0:
                energy[b, j] *= area[b, j] * area[b, j] / conveyance[b, j] ** 3
            else:
                energy[b, j] = 1.0
    return area, conveyance, width, energy


@njit(cache=True, error_model="numpy")
def at_level(height: float, i: int, tables: SectionTables) -> tuple[float, float, float, float]:
    """Return area, conveyance, width and energy coefficient of section i at a level.

    Straight between rows; conveyance by its 3/8 power, which is nearly straight in depth.
    """
    level, area, width, energy = tables.level[i], tables.area[i], tables.width[i], tables.energy[i]
    conveyance = tables.conveyance[i]
    j = min(max(rows_below(level, height) - 1, 0), level.size - 2)
    share = (height - level[j]) / (level[j + 1] - level[j])
    low, high = conveyance[j] ** 0.375, conveyance[j + 1] ** 0.375
    k = max(low + share * (high - low), 0.0) ** (8.0 / 3.0)
    a = area[j] + share * (area[j + 1] - area[j])
    t = width[j] + share * (width[j + 1] - width[j])
    return a, k, t, energy[j] + share * (energy[j + 1] - energy[j])


@njit(cache=True, error_model="numpy")
def critical_level(flow: float, i: int, tables: SectionTables) -> float:
    """Return the highest level at which alpha Q^2 T / (g A^3) = 1 [m]; the bottom if none.

    Q flow [m3/s], T width, A area, alpha energy coefficient of section i.
    """
    level, area, width, energy = tables.level[i], tables.area[i], tables.width[i], tables.energy[i]
    top = level.size - 1
    # From above: a section with a bench is critical at more than one level, and a profile coming
    # from downstream meets the highest first.
    while top > 0:
        a, t = area[top], width[top]
        if a <= 0 or energy[top] * flow * flow * t > GRAVITY * a**3:
            break
        top -= 1
    if top == level.size - 1:
        return float(level[top])
    low, high = level[top], level[top + 1]
    for _ in range(50):
        middle = 0.5 * (low + high)
        a, _, t, alpha = at_level(middle, i, tables)
        if a <= 0 or alpha * flow * flow * t > GRAVITY * a**3:
            low = middle
        else:
            high = middle
    return float(high)


@njit(cache=True, error_model="numpy")
def standard_step(
    flow: float, foot: float, losses: FloatArray, tables: SectionTables
) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray]:
    """Return level, friction slope, Froude number and whether critical, each (sections,).

    Subcritical profile from the last section, where the level is `foot`, upstream: energy balance
    between neighbours, friction by the mean conveyance, `losses` of the change of velocity head
    where the river narrows [0] or widens [1] downstream. Where no subcritical level balances,
    critical.
    """
    n = tables.level.shape[0]
    step = tables.station[1] - tables.station[0]
    out = np.zeros(n)
    friction = np.zeros(n)
    froude = np.zeros(n)
    critical = np.zeros(n, np.bool_)
    head = 0.0
    below = 0.0
    carried = 0.0
    for i in range(n - 1, -1, -1):
        lowest = critical_level(flow, i, tables)
        if i == n - 1:
            height = max(foot, lowest)
            critical[i] = foot < lowest
        else:
            # Above the critical level energy rises with the level, so the balance has one root:
            # bisection.
            low, high = lowest, tables.level[i, -1]
            for _ in range(60):
                middle = 0.5 * (low + high)
                a, k, _, alpha = at_level(middle, i, tables)
                speed_head = alpha * (flow / a) ** 2 / (2 * GRAVITY)
                # Velocity head gained on the way down: above 0 where the river narrows.
                change = below - speed_head
                lost = losses[0] * change if change > 0 else -losses[1] * change
                # Less energy here than below plus the losses: the level must be higher.
                if middle + speed_head < head + step * (2 * flow / (k + carried)) ** 2 + lost:
                    low = middle
                else:
                    high = middle
            height = 0.5 * (low + high)
            critical[i] = height - lowest < 1e-6
        a, k, t, alpha = at_level(height, i, tables)
        out[i] = height
        friction[i] = (flow / k) ** 2
        froude[i] = np.sqrt(alpha * flow * flow * t / (GRAVITY * a**3))
        below = alpha * (flow / a) ** 2 / (2 * GRAVITY)
        head = height + below
        carried = k
    return out, friction, froude, critical
