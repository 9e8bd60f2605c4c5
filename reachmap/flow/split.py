"""Depth and velocity of each cell from the 1-D profile: flooding, and the split by conveyance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array, diags_array
from scipy.sparse.linalg import splu

from reachmap.base.arrays import CodeArray, FloatArray, IntArray
from reachmap.base.patches import joined_to
from reachmap.base.physics import GRAVITY
from reachmap.base.words import Wet
from reachmap.flow import _kernels_split
from reachmap.flow.profile import Profile
from reachmap.flow.section_rasters import Sections
from reachmap.flow.sections import Places

NECK_CELLS = 6
"""Stations of neighbours farther apart than this many cells lie on two limbs of a bend."""
END_CELLS = 1.5
"""Water enters and leaves through a band this many cells deep at the ends."""
SLOPE_FLOOR = 1e-5
"""Smallest slope used in the split: still pools keep a finite conveyance."""
CONTROL_CELLS = 5
"""Spacing, in cells, of the control sections at which discharge is computed; closer, the raster's
grain shows."""
SKYLINE_MOST = 3e9
"""Most work [multiplications] to solve the net in its own order, about 3 s; a valley flooded wider
than that goes to a general sparse solver, which is slower on a river."""


@dataclass(frozen=True, slots=True)
class Flooded:
    """Water on the raster at one flow; arrays (y, x).

    Parameters
    ----------
    wet
        Codes of `Wet`.
    level, depth
        Height of the water and its depth [m]; NaN where not wet.
    """

    wet: CodeArray
    level: FloatArray
    depth: FloatArray


def flooded(sections: Sections, profile: Profile, *, dry_depth: float) -> Flooded:
    """Return where the water stands: the cells it reaches from the main channel.

    Parameters
    ----------
    sections
        The ground cut into sections.
    profile
        The water surface along the river.
    dry_depth
        Thinner water counts as dry [m].

    Notes
    -----
    A low spot the water cannot reach over wet cells stays dry. Cells without a known bed, cells
    past the ends of the line, and low spots reached only over such cells are unknown.
    """
    level = profile.level_at(np.clip(sections.station, sections.cut.head, sections.cut.foot))
    depth = level - sections.bed
    with np.errstate(invalid="ignore"):
        low = sections.inside & (depth > dry_depth)
    seeds = np.zeros(low.shape, np.bool_)
    seeds.ravel()[sections.cut.seeds] = True
    reached = joined_to(seeds, low)
    perhaps = joined_to(reached, low | ~sections.inside)
    wet = np.where(perhaps | ~sections.inside, Wet.UNKNOWN, Wet.NO).astype(np.uint8)
    wet[reached] = Wet.YES
    return Flooded(wet, np.where(reached, level, np.nan), np.where(reached, depth, np.nan))


@dataclass(frozen=True, slots=True)
class Running:
    """Running water on the raster at one flow; arrays (y, x), NaN where not wet.

    Parameters
    ----------
    level, depth
        Height of the water and its depth [m].
    east, north
        Depth-averaged speed [m/s].
    broken
        Whether the wet cells are not connected from head to foot: then the direction is only the
        line's.
    raised
        How many cells were given their critical depth.
    """

    level: FloatArray
    depth: FloatArray
    east: FloatArray
    north: FloatArray
    broken: bool
    raised: int


def split_flow(
    sections: Sections, profile: Profile, water: Flooded, *, slope_rounds: int
) -> Running:
    """Return the water running: the flow shared out over all wet channels by conveyance.

    Parameters
    ----------
    sections, profile, water
        Ground, water surface along the river, and water on the raster.
    slope_rounds
        How often the split is repeated with the slope it found.

    Notes
    -----
    Each cell carries q = depth^(5/3) / n sqrt(S) per unit width towards lower ground of a surface
    phi with div q = 0, all of Q entering at the head and leaving at the foot. In a uniform channel
    this is the split by conveyance of the handbooks; over several channels it gives each the share
    its conveyance and length allow, a blind arm none, and in each the direction of its own banks.
    First S is the profile's friction slope, then that of phi.

    A ledge shorter than a section is covered more thinly by the profile than its flow allows: where
    q would outrun waves, the depth is the critical one of q, (q^2 / g)^(1/3).
    """
    order = _downstream(sections, water)
    number = np.full(water.wet.size, -1, np.int32)
    number[order] = np.arange(order.size, dtype=np.int32)
    right, down = _kernels_split.face_pairs(
        number.reshape(water.wet.shape), sections.station, NECK_CELLS * sections.cut.cell
    )
    net = _net(sections, profile, water, order, right, down)
    if net is None:
        east, north = _along_line(sections, profile, water, order)
    else:
        east, north = _potential(net, sections, order, slope_rounds)
    east, north = _to_each_section(sections, profile.flow, order, east, north)
    depth = water.depth.ravel()[order]
    # Depth at Fr = 1 for the discharge per width: h_c = (q^2 / g)^(1/3).
    critical = np.cbrt((east**2 + north**2) / GRAVITY)
    running = np.maximum(depth, critical)
    return Running(
        level=_spread(water, order, sections.bed.ravel()[order] + running),
        depth=_spread(water, order, running),
        east=_spread(water, order, east / running),
        north=_spread(water, order, north / running),
        broken=net is None,
        raised=int((critical > depth).sum()),
    )


def _spread(water: Flooded, order: Places, values: FloatArray) -> FloatArray:
    """Return values of the wet cells as a raster, NaN elsewhere."""
    raster = np.full(water.wet.shape, np.nan)
    raster.ravel()[order] = values
    return raster


def section_flows(
    sections: Sections, depth: FloatArray, east: FloatArray, north: FloatArray
) -> FloatArray:
    """Return the discharge through control sections along the river as the raster has it [m3/s].

    Parameters
    ----------
    sections
        The ground cut into sections.
    depth, east, north
        Depth [m] and speed [m/s] on the raster; NaN counts as none.

    Notes
    -----
    Control sections stand evenly from head to foot. At each, the weighted mean of the flow across
    lines of equal station between the sections above and below: sum of q . grad(station) cell^2 /
    step (coarea formula).
    """
    with np.errstate(invalid="ignore"):
        through = depth * (east * sections.along_x + north * sections.along_y)
    use = np.isfinite(through) & sections.inside
    return _per_control(sections, *_between_controls(sections, sections.station[use]), through[use])


def _controls(sections: Sections) -> int:
    """Return how many intervals the control sections cut the river into, at least 2."""
    length = sections.cut.foot - sections.cut.head
    return max(round(length / (CONTROL_CELLS * sections.cut.cell)), 2)


def _between_controls(sections: Sections, station: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return the control section at or above each station and the share to the next, 0 to 1."""
    number = _controls(sections)
    place = (station - sections.cut.head) / (sections.cut.foot - sections.cut.head) * number
    control = np.clip(place, 0, number - 1).astype(np.int32)
    return control, np.asarray(place - control)


def _per_control(
    sections: Sections, control: IntArray, share: FloatArray, through: FloatArray
) -> FloatArray:
    """Return the flow across lines of equal station summed at each control section [m3/s]."""
    number = _controls(sections)
    sums = np.bincount(control, through * (1 - share), number + 1)
    sums += np.bincount(control + 1, through * share, number + 1)
    sums[[0, -1]] *= 2  # the end sections have cells on one side only
    return np.asarray(
        sums * sections.cut.cell**2 * number / (sections.cut.foot - sections.cut.head)
    )


@dataclass(frozen=True, slots=True)
class _Net:
    """Wet cells in order downstream, their faces, and what enters and leaves; arrays (cells,)."""

    right: IntArray
    down: IntArray
    conductance: FloatArray
    slope: FloatArray
    enter: FloatArray
    leave: FloatArray


def _downstream(sections: Sections, water: Flooded) -> Places:
    """Return the flat indices of the wet cells, sorted downstream: neighbours stay close by."""
    flat = np.flatnonzero(water.wet == Wet.YES)
    return np.asarray(flat[np.argsort(sections.station.ravel()[flat], kind="stable")])


def _net(
    sections: Sections,
    profile: Profile,
    water: Flooded,
    order: Places,
    right: IntArray,
    down: IntArray,
) -> _Net | None:
    """Return the net of wet cells; None where head and foot are not connected."""
    station = sections.station.ravel()[order]
    stretch = sections.stretch.ravel()[order]
    conductance = sections.carried(water.depth.ravel()[order], order)
    slope = np.interp(station, profile.station, profile.friction_slope) * stretch
    slope = np.maximum(slope, SLOPE_FLOOR)
    band = END_CELLS * sections.cut.cell * stretch
    at_foot = station > sections.cut.foot - band
    reached = _kernels_split.connected(right, down, at_foot)
    enter = np.where((station < sections.cut.head + band) & reached, conductance, 0.0)
    if not enter.sum() > 0:
        return None
    leave = np.where(at_foot, conductance, 0.0)
    return _Net(right, down, conductance, slope, enter * profile.flow / enter.sum(), leave)


def _potential(
    net: _Net, sections: Sections, order: Places, rounds: int
) -> tuple[FloatArray, FloatArray]:
    """Return the flow per unit width east and north in each cell [m2/s]."""
    slope = net.slope
    for remaining in range(rounds, -1, -1):
        root = np.sqrt(slope)
        across = _kernels_split.face_conductance(net.conductance, root, net.right)
        along = _kernels_split.face_conductance(net.conductance, root, net.down)
        out = net.leave / root
        height = _heights(net, across, along, out)
        east, south = _kernels_split.cell_flows(net.right, net.down, across, along, height)
        if remaining:
            # The slope that the found q needs: q = K S / sqrt(S assumed), K the cell's conveyance
            # per width.
            fall = np.hypot(east, south) / sections.cut.cell * root / net.conductance
            # Geometric mean of new and assumed slope: q goes with the root of S, so the plain
            # iteration swings about its answer. Held near the profile's slope.
            slope = np.clip(np.sqrt(fall * slope), 0.05 * net.slope, 20 * net.slope)
    # Half of what enters or leaves in an end cell crosses it, along the line.
    ends = 0.5 * (net.enter + out * height)
    x, y = sections.along_x.ravel()[order], sections.along_y.ravel()[order]
    size = np.hypot(x, y)
    north = -south
    return (east + ends * x / size) / sections.cut.cell, (
        north + ends * y / size
    ) / sections.cut.cell


def _heights(net: _Net, across: FloatArray, along: FloatArray, out: FloatArray) -> FloatArray:
    """Return phi [m] of each cell, 0 past the foot."""
    # A trace on the diagonal keeps the matrix regular: only the foot fixes phi, and cells that no
    # face joins to it have no other condition.
    own = out + 1e-12 * max(float((across + along).max()), float(out.max()))
    # Work of the factor: the squared lengths of its rows, from the first linked cell to the
    # diagonal.
    reach = np.arange(own.size) - _kernels_split.first_linked(net.right, net.down)
    if float((reach.astype(np.float64) ** 2).sum()) < SKYLINE_MOST:
        return _kernels_split.skyline_solve(net.right, net.down, across, along, own, net.enter)
    here = np.arange(own.size)
    matrix = diags_array(own, format="csc")
    for other, conductance in ((net.right, across), (net.down, along)):
        i, j, e = here[other >= 0], other[other >= 0], conductance[other >= 0]
        entries = (np.r_[e, e, -e, -e], (np.r_[i, j, i, j], np.r_[i, j, j, i]))
        matrix = matrix + csc_array(entries, shape=matrix.shape)
    solver = splu(matrix, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})
    return np.asarray(solver.solve(net.enter))


def _along_line(
    sections: Sections,
    profile: Profile,
    water: Flooded,
    order: Places,
) -> tuple[FloatArray, FloatArray]:
    """Return the flow per unit width along the line, by Manning on each cell [m2/s]."""
    stretch = sections.stretch.ravel()[order]
    slope = (
        np.interp(sections.station.ravel()[order], profile.station, profile.friction_slope)
        * stretch
    )
    size = sections.carried(water.depth.ravel()[order], order) * np.sqrt(slope)
    return (
        size * sections.along_x.ravel()[order] / stretch,
        size * sections.along_y.ravel()[order] / stretch,
    )


def _to_each_section(
    sections: Sections,
    flow: float,
    order: Places,
    east: FloatArray,
    north: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return the unit flows scaled, smoothly along the river: each section carries the flow."""
    through = east * sections.along_x.ravel()[order] + north * sections.along_y.ravel()[order]
    control, share = _between_controls(sections, sections.station.ravel()[order])
    factor = np.ones(int(control.max()) + 2)
    for _ in range(12):
        scale = factor[control] * (1 - share) + factor[control + 1] * share
        found = _per_control(sections, control, share, through * scale)
        # Every cell is scaled by two sections, so that dividing once does not meet both; damped
        # rounds do.
        factor *= np.clip(flow / np.maximum(found, 1e-9 * flow), 0.5, 2.0)
        factor = np.clip(factor, 0.25, 4.0)
    scale = factor[control] * (1 - share) + factor[control + 1] * share
    return east * scale, north * scale
