"""The corridor fish travel up: the odds that one passes each cell, over fish of many habits.

A fish plans as far as it feels the river ahead, not over the whole reach: at every stretch it takes
a way to the water some way upstream, mostly a cheap one. Fish differ in what effort costs them, how
closely they keep to the cheapest way, how much cover they want, and some keep to one bank.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import EIGHT, cells_of
from reachmap.water.field import WaterField, packed_by_mask
from reachmap.water.lanes import Current, step_costs
from reachmap.water.mesh import KING, Mesh, mesh_of
from reachmap.water.passage import Order, Steps, choices, pass_through
from reachmap.water.settings import CorridorSettings, LaneSettings

THETA_M = 2.0
"""Size of the cells that the fish's theta is meant for [m]."""

COST_MOST = 60.0
"""Cost of a step over that of still water never counts more than this [still metres]: dearer ways
are all alike, and the sums stay within what a double holds."""


@dataclass(frozen=True, slots=True)
class Fish:
    """Habits of one fish.

    Parameters
    ----------
    effort_per_m_s
        k in P ~ exp(k Us) [s/m].
    theta
        How closely it keeps to cheap ways [1/still metre].
    cover
        Times the usual depth of cover it wants.
    side
        1 keeps to river left, -1 to river right, 0 to neither.
    """

    effort_per_m_s: float
    theta: float
    cover: float
    side: int


@dataclass(frozen=True, slots=True)
class Corridor:
    """Where fish pass at one flow.

    Parameters
    ----------
    passes
        Net share of the fish that pass each cell of the field's raster, 0 to 1, 0 where none does;
        NaN where not known to be wet, shape (y, x).
    left
        The same of fish that pass nearer the left bank than the right, over all: the odds of the
        left bank by stretches of `CorridorSettings.bin_m`, downstream, NaN where no fish passes.
    arrived
        Share of the fish that reached the upstream end.
    bold, shy
        As `passes`, of the half of the fish with the lower and with the higher effort exponent: the
        shy ones keep to slack water.
    """

    passes: PackedRaster
    left: FloatArray
    arrived: float
    bold: PackedRaster
    shy: PackedRaster


def fish_of(settings: CorridorSettings, effort_per_m_s: float) -> list[Fish]:
    """Return the fish of the ensemble: evenly spread over the settings' ranges, the same each time.

    Efforts, thetas and cover are paired by a Latin square, so that a few fish span all three; of
    eight or so one keeps to the left bank and one to the right.
    """
    count = settings.fish
    place = (np.arange(count) + 0.5) / count
    low, high = settings.effort_range
    efforts = effort_per_m_s * low * (high / low) ** place
    low, high = settings.theta_range
    thetas = low * (high / low) ** place[_stride(count, 2)]
    low, high = settings.cover_range
    covers = low * (high / low) ** place[_stride(count, 3)]
    sides = np.resize([0, 1, 0, 0, 0, -1, 0, 0], count)
    rows = zip(efforts, thetas, covers, sides, strict=True)
    return [Fish(float(k), float(theta), float(deep), int(side)) for k, theta, deep, side in rows]


def _stride(count: int, step: int) -> IntArray:
    """Return 0 to `count` - 1 in steps of at least `step`, each once."""
    while np.gcd(step, count) != 1:
        step += 1
    return np.asarray((np.arange(count, dtype=np.int32) * step) % count)


def find_corridor(
    field: WaterField,
    travelled: BoolArray,
    lane: LaneSettings,
    settings: CorridorSettings,
    cover_depth: float,
) -> Corridor:
    """Return the odds that a fish on its way up passes each cell.

    Parameters
    ----------
    field
        The flow.
    travelled
        Cells of channels that carry enough water to lead a fish, shape (y, x).
    lane
        Costs and limits of a fish on its way upstream.
    settings
        Settings of the ensemble of fish.
    cover_depth
        Depth at which fish feel covered at this flow's clarity [m].

    Notes
    -----
    Each fish's choices are those of a randomised shortest path (`passage.choices`) to the water
    `sight_m` ahead, found anew for every stretch of `core_m`: over the whole reach at once one side
    of a bend becomes all or nothing. Its passage is the net flow through the chain of choices. The
    ensemble's mean is taken over the fish.
    """
    open_ = field.placed & travelled
    current = Current.of(field, lane.swim_height_m)
    water = _Coarse.of(field, current, open_, max(int(settings.cell_m // field.grid.cell), 1))
    piece = _main_piece(water.open)
    wet = cells_of(field.wet)
    if not piece.any():
        passes = packed_by_mask(field.wet, np.zeros(wet[0].size))
        return Corridor(passes, np.zeros(0), 0.0, passes, passes)
    mesh = mesh_of(piece, KING)
    station = water.station[mesh.rows, mesh.cols]
    top = _where(station <= station.min() + lane.end_m)
    foot = _where(station >= station.max() - lane.end_m)
    windows = list(_windows(mesh, station, settings, lane.end_m))
    through = np.zeros((2, mesh.size))
    arrived = 0.0
    order = Order.of(mesh.size, np.r_[mesh.a, mesh.b], np.r_[mesh.b, mesh.a], top)
    crowd = fish_of(settings, lane.effort_per_m_s)
    efforts = np.array([fish.effort_per_m_s for fish in crowd])
    is_shy = efforts >= np.median(efforts)
    for fish, shy in zip(crowd, is_shy.astype(int), strict=True):
        steps = _steps(water, mesh, fish, lane, settings, cover_depth)
        chance = np.zeros(steps.cost.shape)
        for window in windows:
            # Fewer steps a metre leave fewer choices, and each then weighs more.
            chance[window.own] = window.choices(steps, fish.theta * THETA_M / water.current.cell)
        found = pass_through(steps, chance, foot, top, order)
        through[shy] += found.through
        arrived += found.arrived / len(crowd)

    def fine(share: FloatArray) -> PackedRaster:
        """Return a share by cell of the mesh on the field's raster."""
        wide = np.zeros(water.open.shape)
        wide[mesh.rows, mesh.cols] = np.minimum(share, 1.0)
        passes = (wide / water.size)[wet[0] // water.size, wet[1] // water.size]
        return packed_by_mask(field.wet, np.where(open_[wet], passes, 0.0))

    counts = np.array([(~is_shy).sum(), is_shy.sum()])
    both = fine(through.sum(axis=0) / len(crowd))
    bold, shy = (fine(one / max(n, 1)) for one, n in zip(through, counts, strict=True))
    if not counts.all():  # one fish alone is both
        bold = shy = both
    return Corridor(both, _left_share(field, both, settings.bin_m), arrived, bold, shy)


@dataclass(frozen=True, slots=True)
class _Coarse:
    """A flow on cells `size` times as large a side, means over the open cells of each.

    `left` is the share of the width that lies between a cell and the left bank.
    """

    size: int
    open: BoolArray
    station: FloatArray
    left: FloatArray
    current: Current

    @classmethod
    def of(cls, field: WaterField, current: Current, open_: BoolArray, size: int) -> _Coarse:
        """Return a flow coarsened; a cell is open where at least half of it is."""
        rows, cols = cells_of(open_)
        shape = tuple(-(-one // size) for one in open_.shape)
        cells = np.ravel_multi_index((rows // size, cols // size), shape)
        count = np.bincount(cells, minlength=shape[0] * shape[1])

        def mean(values: FloatArray) -> FloatArray:
            total = np.bincount(cells, values, minlength=count.size)
            return np.asarray((total / np.maximum(count, 1)).reshape(shape))

        left = field.gap_left.of_cells(rows, cols) / field.section.of_cells(rows, cols)
        east, north, depth, overgrown = (
            mean(one[rows, cols])
            for one in (current.east, current.north, current.depth, current.overgrown)
        )
        return cls(
            size,
            np.asarray((count >= 0.5 * size**2).reshape(shape)),
            mean(field.station[rows, cols]),
            mean(np.nan_to_num(left, nan=0.5)),
            Current(east, north, depth, overgrown, size * field.grid.cell),
        )


def _main_piece(open_: BoolArray) -> BoolArray:
    """Return the largest connected piece of a mask."""
    labels, count = ndimage.label(open_, EIGHT)
    if not count:
        return open_
    sizes = np.bincount(labels.ravel())[1:]
    return np.asarray(labels == 1 + int(np.argmax(sizes)))


def _steps(
    water: _Coarse,
    mesh: Mesh,
    fish: Fish,
    lane: LaneSettings,
    settings: CorridorSettings,
    cover_depth: float,
) -> Steps:
    """Return the steps between cells with what each costs one fish."""
    own = replace(lane, effort_per_m_s=fish.effort_per_m_s)
    current = water.current
    forth, back = step_costs(current, mesh, own, fish.cover * cover_depth)
    times = np.ones(mesh.size)
    if fish.side:
        left = water.left[mesh.rows, mesh.cols]
        times += settings.bank_pull * (left if fish.side > 0 else 1 - left)
    speed = np.hypot(current.east, current.north)[mesh.rows, mesh.cols]
    # Dead water leads nowhere: a fish that feels no current has no reason to swim on.
    times += settings.dead_pull * np.clip(1.0 - speed / settings.dead_m_s, 0.0, 1.0)
    middle = 0.5 * (times[mesh.a] + times[mesh.b])
    most = COST_MOST * mesh.length * current.cell
    cost = np.minimum(np.r_[forth * middle, back * middle], np.r_[most, most])
    return Steps(mesh.size, np.r_[mesh.a, mesh.b], np.r_[mesh.b, mesh.a], cost)


@dataclass(frozen=True, slots=True)
class _Window:
    """A stretch whose choices are found with the water ahead of it.

    Parameters
    ----------
    cells
        Numbers of its cells in the mesh, rising.
    ends
        Numbers among them at which the look ahead ends.
    used
        The mesh's directed steps within it.
    own
        Of these, those out of cells of its core.
    mine
        Which of `used` they are.
    source, target
        Cells that `used` join, numbered within the stretch.
    order
        In which the cells are solved for; the same for every fish.
    """

    cells: IntArray
    ends: IntArray
    used: IntArray
    own: IntArray
    mine: BoolArray
    source: IntArray
    target: IntArray
    order: Order

    def choices(self, steps: Steps, theta: float) -> FloatArray:
        """Return the chances of the core's own steps."""
        part = Steps(int(self.cells.size), self.source, self.target, steps.cost[self.used])
        return choices(part, self.ends, theta, self.order)[self.mine]


def _windows(
    mesh: Mesh, station: FloatArray, settings: CorridorSettings, end_m: float
) -> Iterator[_Window]:
    """Yield the stretches from the foot of the reach to its head, each with the water ahead.

    A little water below the core is part of it, so that a fish may turn back out of a dead end.
    """
    source, target = np.r_[mesh.a, mesh.b], np.r_[mesh.b, mesh.a]
    low, high = float(station.min()), float(station.max())
    for begin in np.arange(low, high, settings.core_m):
        end = begin + settings.core_m
        ahead = max(begin - settings.sight_m, low)
        inside = (station >= ahead) & (station <= end + settings.behind_m)
        cells = _where(inside)
        ends = _where(station[cells] <= ahead + end_m)
        used = _where(inside[source] & inside[target])
        mine = (station[source[used]] >= begin) & (station[source[used]] < end)
        if ends.size and mine.any():
            number = np.full(mesh.size, -1, dtype=np.int32)
            number[cells] = np.arange(cells.size, dtype=np.int32)
            pair = number[source[used]], number[target[used]]
            order = Order.of(int(cells.size), *pair, ends)
            yield _Window(cells, ends, used, used[mine], mine, *pair, order)


def _where(mask: BoolArray) -> IntArray:
    """Return the numbers of what is true."""
    return np.flatnonzero(mask).astype(np.int32)


def _left_share(field: WaterField, passes: PackedRaster, bin_m: float) -> FloatArray:
    """Return by stretches the share of the passage nearer the left bank than the right."""
    rows, cols = passes.above(0.0)
    station, value = field.station[rows, cols], passes[rows, cols]
    bins = np.floor(np.maximum(station, 0.0) / bin_m).astype(np.int64)
    left = field.gap_left.of_cells(rows, cols) < field.gap_right.of_cells(rows, cols)
    total, mine = np.bincount(bins, value), np.bincount(bins, value * left)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(total > 0, mine / total, np.nan))
