"""The 1-D correction: what sections gain or lose, marched up the river as a change of stage."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_flux import INFLOW, VACUUM, inner_face, open_face
from reachmap.flow.engine._kernels_friction import friction_power, unit_conveyance
from reachmap.flow.engine.compiled import allocating_kernel, kernel
from reachmap.flow.engine.mesh import Mesh, OpenFaces, Sections, State

LEAST_INFLOW_DEPTH = 0.02
"""Head cells with less water let none in [m]."""
LEAST_SLOPE = 3e-4
"""Friction slope that the march is linearised about, at least: with less, small errors of discharge
ask for large changes of stage. Our choice."""
MOST_FROUDE2 = 0.7
"""Square of the Froude number in the march, at most: at 1 the stage below no longer reaches up. Our
choice."""
MOST_CHANGE = 0.2
"""Largest change a correction makes, over the mean depth and the discharge. Our choice."""


@kernel
def section_sums(
    mesh: Mesh, state: State, sections: Sections, river: BoolArray, thin: float, sums: FloatArray
) -> float:
    """Write what each section loses and holds, eq. (22); return the outflow at the foot [m3/s].

    The fluxes are those the sweep balances.

    Parameters
    ----------
    mesh, state, sections
        The grid.
    river
        Cells that count: a pool joined to neither head nor foot has no part in the balance, shape
        (cells,).
    thin
        Water that is no deeper carries nothing [m].
    sums
        Shape (sections, 5), overwritten: discharge that leaves the section's cells less what enters
        them [m3/s]; of its mean cross-section area [m2], width [m] and conveyance [m3/s]; and the
        conveyance times the power of depth that each cell's goes with.
    """
    water, boundary, cell = state.water, state.boundary, mesh.cell
    outflow = 0.0
    # A cell stands for a strip of the mean cross-section: its area over the section's length.
    strip = cell * cell / sections.length
    sums[:, :] = 0.0
    for i in range(water.shape[0]):
        if not river[i]:
            continue
        lost = -state.sources[i, 0] * cell * cell if state.sources.shape[0] > 0 else 0.0
        h = water[i, 0]
        for side in range(4):
            axis = side // 2
            sign = 1.0 if side % 2 == 1 else -1.0
            j = mesh.neighbours[i, side]
            if j >= 0:
                if h > VACUUM or water[j, 0] > VACUUM:
                    lost += inner_face(i, j, axis, sign, mesh, state).mass * cell
            elif j <= -2:
                flow = open_face(i, -2 - j, axis, sign, mesh, state).mass * cell
                lost += flow
                if boundary.kind[-2 - j] != INFLOW:
                    outflow += flow
        b = sections.section_of[i]
        sums[b, 0] += lost
        if h > thin:
            sums[b, 1] += h * strip
            sums[b, 2] += strip
            carried = unit_conveyance(h, mesh.roughness2[i], mesh.stone_term[i]) * strip
            sums[b, 3] += carried
            # friction goes with h^-p and, squared, with 1/K: K with h^(p/2 + 1/2)
            sums[b, 4] += carried * (0.5 * friction_power(mesh.stone_term[i], h) + 0.5)
    return outflow


@allocating_kernel
def stage_change(
    sums: FloatArray,
    inflow: FloatArray,
    length: float,
    share: float,
    stage: FloatArray,
    scale: FloatArray,
) -> None:
    """Write each section's change of stage [m] and factor of discharge, eqs. (23), (24).

    Parameters
    ----------
    sums
        From `section_sums`.
    inflow
        What must pass the lower end of each section, shape (sections,) [m3/s].
    length
        Of a section [m].
    share
        Part of the correction that is applied, 0 to 1.
    stage, scale
        Shape (sections,), overwritten.

    Notes
    -----
    With Q = K sqrt(S) and S = (Q/K)^2, changes of stage e above and below a section's lower end
    change the flow through it by dQ/Q = p T/(2 A) (e_up + e_down) + (1 - Fr^2)/(2 S length) (e_up -
    e_down): the linearised diffusive wave (Cunge, Holly and Verwey 1980, from memory). K goes with
    depth to the power p, 5/3 by Manning's formula.
    """
    count = sums.shape[0]
    carried = np.empty(count)
    gone = 0.0
    for b in range(count):
        gone += sums[b, 0]
        carried[b] = inflow[b] + gone
    # The stage at the foot is held, so the march goes up; subcritical flow is ruled from below.
    stage[count - 1] = 0.0
    for b in range(count - 2, -1, -1):
        want = inflow[b]
        flow = max(carried[b], 0.1 * want)
        conveyance = max(0.5 * (sums[b, 3] + sums[b + 1, 3]), 1e-6)
        slope = max((flow / conveyance) ** 2, LEAST_SLOPE)
        area = max(0.5 * (sums[b, 1] + sums[b + 1, 1]), 1e-6)
        width = 0.5 * (sums[b, 2] + sums[b + 1, 2])
        froude2 = min(flow * flow * width / (GRAVITY * area**3), MOST_FROUDE2)
        tilt = (1.0 - froude2) / (2.0 * slope * length)
        power = 0.5 * (sums[b, 4] + sums[b + 1, 4]) / conveyance
        fill = 0.5 * max(power, 5.0 / 3.0) * width / area
        stage[b] = ((want - carried[b]) / flow + (tilt - fill) * stage[b + 1]) / (tilt + fill)
    for b in range(count):
        limit = MOST_CHANGE * sums[b, 1] / max(sums[b, 2], 1e-6)
        stage[b] = min(max(share * stage[b], -limit), limit)
        # Discharge within a section: the mean of what passes its two ends.
        flow = carried[b] if b == 0 else 0.5 * (carried[b] + carried[b - 1])
        want = inflow[b] if b == 0 else 0.5 * (inflow[b] + inflow[b - 1])
        excess = want / max(flow, 0.2 * want) - 1.0
        scale[b] = 1.0 + min(max(share * excess, -MOST_CHANGE), MOST_CHANGE)


@kernel
def apply_correction(
    water: FloatArray,
    river: BoolArray,
    sections: Sections,
    stage: FloatArray,
    scale: FloatArray,
    deep: float,
) -> None:
    """Shift the level and scale the discharge of river cells deeper than `deep` [m], in place.

    The change is straight between the middles of the sections.
    """
    count = stage.shape[0]
    for i in range(water.shape[0]):
        h = water[i, 0]
        if h <= deep or not river[i]:
            continue
        place = (sections.station[i] - sections.head) / sections.length - 0.5
        low = min(max(int(place), 0), count - 2)
        part = min(max(place - low, 0.0), 1.0)
        rise = (1.0 - part) * stage[low] + part * stage[low + 1]
        factor = (1.0 - part) * scale[low] + part * scale[low + 1]
        new = max(h + rise, 0.5 * h)
        water[i, 0] = new
        # q = factor * q_old, so the velocity also makes up for the change of depth.
        water[i, 1] *= factor * h / new
        water[i, 2] *= factor * h / new


@kernel
def distribute_inflow(
    flow: float,
    mesh: Mesh,
    water: FloatArray,
    faces: OpenFaces,
    river: BoolArray,
    value: FloatArray,
) -> None:
    """Share `flow` [m3/s] out over the head's faces by conveyance, eq. (10), into `value` [m2/s].

    The water is taken to stand level across the head, at the mean level of its `river` cells
    weighted by conveyance; a face gets depth^(5/3)/n below that level times how squarely it stands
    across the river. (By each cell's own depth, water that heaps up draws more water: it
    oscillates.) With no water there yet the level is 1 m above the lowest bed. Half of the old
    shares stay, to damp it.
    """
    bed, roughness2, owner = mesh.bed, mesh.roughness2, faces.owner
    stones = mesh.stone_term
    weight = 0.0
    level = 0.0
    lowest = np.inf
    old = 0.0
    for k in range(owner.shape[0]):
        if faces.head[k]:
            i = owner[k]
            lowest = min(lowest, bed[i])
            old += value[k]
            if river[i] and water[i, 0] > LEAST_INFLOW_DEPTH:
                part = unit_conveyance(water[i, 0], roughness2[i], stones[i]) * faces.squareness[k]
                weight += part
                level += part * (water[i, 0] + bed[i])
    level = level / weight if weight > 0.0 else lowest + 1.0
    total = 0.0
    for k in range(owner.shape[0]):
        i = owner[k]
        if faces.head[k] and (river[i] or weight <= 0.0):
            depth = max(level - bed[i] - LEAST_INFLOW_DEPTH, 0.0)
            total += unit_conveyance(depth, roughness2[i], stones[i]) * faces.squareness[k]
    kept = 0.5 if old > 0.0 else 0.0
    for k in range(owner.shape[0]):
        if faces.head[k]:
            i = owner[k]
            value[k] *= kept
            if total > 0.0 and (river[i] or weight <= 0.0):
                depth = max(level - bed[i] - LEAST_INFLOW_DEPTH, 0.0)
                part = unit_conveyance(depth, roughness2[i], stones[i]) * faces.squareness[k]
                value[k] += (1.0 - kept) * flow * part / (total * mesh.cell)
