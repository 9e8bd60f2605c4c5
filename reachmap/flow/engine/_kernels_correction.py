"""The 1-D correction: what station bins gain or lose, marched up the river as a change of stage."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, Float32Array, FloatArray, IntArray
from reachmap.flow.engine._kernels_flux import (
    FAST,
    GRAVITY,
    INFLOW,
    VACUUM,
    inner_face,
    open_face,
)

LET_IN_DEPTH = 0.02
"""Head cells with less water let none in [m]."""


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def carrying(depth: float, rough2: float) -> float:
    """Return depth^(5/3) / n: what a metre of width carries at slope 1 (Manning 1891) [m2/s]."""
    root = np.cbrt(depth)
    return float(depth * root * root / np.sqrt(rough2))


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def section_sums(
    water: FloatArray,
    bed: FloatArray,
    rough2: FloatArray,
    tilt: Float32Array,
    beside: IntArray,
    gates: FloatArray,
    extra: FloatArray,
    river: BoolArray,
    bin_of: IntArray,
    cell: float,
    step: float,
    thin: float,
    sums: FloatArray,
) -> float:
    """Write what each station bin loses and holds; return what leaves at the foot [m3/s].

    `sums` (bins, 4): water that leaves the bin's cells less what enters them [m3/s], area [m2],
    width [m] and conveyance [m3/s] of its mean section; `step` is a bin's length [m]. The fluxes
    are those the sweep balances. Only `river` cells count: a pool that hangs together with neither
    head nor foot has no part in the balance. Other arrays as in `_kernels_flux`.
    """
    outflow = 0.0
    strip = cell * cell / step
    sums[:, :] = 0.0
    for i in range(water.shape[0]):
        if not river[i]:
            continue
        lost = -extra[i, 0] * cell * cell if extra.shape[0] > 0 else 0.0
        h = water[i, 0]
        for side_no in range(4):
            axis = side_no // 2
            sign = 1.0 if side_no % 2 == 1 else -1.0
            j = beside[i, side_no]
            if j >= 0:
                if h > VACUUM or water[j, 0] > VACUUM:
                    lost += inner_face(i, j, axis, sign, water, bed, tilt)[0] * cell
            elif j <= -2:
                flow = open_face(i, -2 - j, axis, sign, water, bed, tilt, gates)[0] * cell
                lost += flow
                if gates[-2 - j, 0] != INFLOW:
                    outflow += flow
        b = bin_of[i]
        sums[b, 0] += lost
        if h > thin:
            sums[b, 1] += h * strip
            sums[b, 2] += strip
            sums[b, 3] += carrying(h, rough2[i]) * strip
    return outflow


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def march(
    sums: FloatArray,
    inflow: FloatArray,
    step: float,
    share: float,
    stage: FloatArray,
    scale: FloatArray,
    carried: FloatArray,
) -> None:
    """Write the change of stage [m], the factor of discharge and the discharge found, one a bin.

    With Q = K sqrt(S) and S = (Q/K)^2, changes of stage e above and below a bin's lower face change
    the flow through it by dQ/Q = 5 T/(6 A) (e_up + e_down) + (1 - Fr^2)/(2 S step) (e_up - e_down):
    the linearised diffusive wave (Cunge, Holly and Verwey 1980, from memory). `inflow` (bins,) is
    what must pass each lower face [m3/s]. The stage at the foot is held, so the march goes up.
    """
    bins = sums.shape[0]
    gone = 0.0
    for b in range(bins):
        gone += sums[b, 0]
        carried[b] = inflow[b] + gone
    stage[bins - 1] = 0.0
    for b in range(bins - 2, -1, -1):
        want = inflow[b]
        flow = max(carried[b], 0.1 * want)
        carry = max(0.5 * (sums[b, 3] + sums[b + 1, 3]), 1e-6)
        slope = max((flow / carry) ** 2, 3e-4)
        area = max(0.5 * (sums[b, 1] + sums[b + 1, 1]), 1e-6)
        width = 0.5 * (sums[b, 2] + sums[b + 1, 2])
        froude2 = min(flow * flow * width / (GRAVITY * area**3), 0.7)
        lean = (1.0 - froude2) / (2.0 * slope * step)
        fill = 5.0 / 6.0 * width / area
        stage[b] = ((want - carried[b]) / flow + (lean - fill) * stage[b + 1]) / (lean + fill)
    for b in range(bins):
        limit = 0.2 * sums[b, 1] / max(sums[b, 2], 1e-6)
        stage[b] = min(max(share * stage[b], -limit), limit)
        flow = carried[b] if b == 0 else 0.5 * (carried[b] + carried[b - 1])
        want = inflow[b] if b == 0 else 0.5 * (inflow[b] + inflow[b - 1])
        step_up = want / max(flow, 0.2 * want) - 1.0
        scale[b] = 1.0 + min(max(share * step_up, -0.2), 0.2)


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def apply_correction(
    water: FloatArray,
    river: BoolArray,
    station: FloatArray,
    head: float,
    step: float,
    stage: FloatArray,
    scale: FloatArray,
    deep: float,
) -> None:
    """Shift the level and scale the discharge of river cells deeper than `deep` [m], in place.

    The change is straight between the middles of the bins, which are `step` [m] long from `head`
    on.
    """
    bins = stage.shape[0]
    for i in range(water.shape[0]):
        h = water[i, 0]
        if h <= deep or not river[i]:
            continue
        place = (station[i] - head) / step - 0.5
        low = min(max(int(place), 0), bins - 2)
        part = min(max(place - low, 0.0), 1.0)
        rise = (1.0 - part) * stage[low] + part * stage[low + 1]
        factor = (1.0 - part) * scale[low] + part * scale[low + 1]
        new = max(h + rise, 0.5 * h)
        water[i, 0] = new
        water[i, 1] *= factor * h / new
        water[i, 2] *= factor * h / new


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def spread_inflow(
    flow: float,
    water: FloatArray,
    bed: FloatArray,
    rough2: FloatArray,
    owner: IntArray,
    into: FloatArray,
    head: BoolArray,
    river: BoolArray,
    cell: float,
    gates: FloatArray,
) -> None:
    """Share `flow` [m3/s] out over the head's faces by conveyance, into `gates`.

    The water is taken to stand level across the head, at the mean level of its `river` cells
    weighed by what they carry; a face gets depth^(5/3)/n below that level times how squarely it
    stands across the river. (By each cell's own depth, water that heaps up draws more water: it
    swings.) With no water there yet the level is 1 m above the lowest bed. Half of the old shares
    stay, to calm it.
    """
    weight = 0.0
    level = 0.0
    lowest = np.inf
    old = 0.0
    for k in range(owner.shape[0]):
        if head[k]:
            i = owner[k]
            lowest = min(lowest, bed[i])
            old += gates[k, 1]
            if river[i] and water[i, 0] > LET_IN_DEPTH:
                part = carrying(water[i, 0], rough2[i]) * into[k]
                weight += part
                level += part * (water[i, 0] + bed[i])
    level = level / weight if weight > 0.0 else lowest + 1.0
    total = 0.0
    for k in range(owner.shape[0]):
        if head[k] and (river[owner[k]] or weight <= 0.0):
            i = owner[k]
            total += carrying(max(level - bed[i] - LET_IN_DEPTH, 0.0), rough2[i]) * into[k]
    stay = 0.5 if old > 0.0 else 0.0
    for k in range(owner.shape[0]):
        if head[k]:
            i = owner[k]
            gates[k, 1] *= stay
            if total > 0.0 and (river[i] or weight <= 0.0):
                part = carrying(max(level - bed[i] - LET_IN_DEPTH, 0.0), rough2[i]) * into[k]
                gates[k, 1] += (1.0 - stay) * flow * part / (total * cell)
