"""A fly line as links and nodes: lengths, thickness, mass and weight under water."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from reachmap.angler._kernels_line import DRAG_POWER, VISCOUS_DRAG
from reachmap.angler.settings import LineSettings
from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY, WATER_DENSITY
from reachmap.markup.kit import Head, Tip


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of line: length and diameter [m], mass per length [kg/m], whether it floats."""

    length_m: float
    wide_m: float
    mass_kg_m: float
    floats: bool


@dataclass(frozen=True, slots=True)
class Line:
    """A line outside the rod tip, rod tip first.

    `link, wide` (links,) lengths and diameters [m]; `mass, heavy` (nodes,) mass [kg] and weight
    under water [N]; `floats` (nodes,) 1 where a node floats.
    """

    link: FloatArray
    wide: FloatArray
    mass: FloatArray
    heavy: FloatArray
    floats: FloatArray

    @property
    def afloat(self) -> int:
        """Return the last node that floats, the fly's where all do."""
        found = np.flatnonzero(self.floats > 0.5)
        return int(found[-1]) if found.size else self.mass.size - 1

    @property
    def length_m(self) -> float:
        """Return its length [m]."""
        return float(self.link.sum())


def cylinder_drag(reynolds: FloatArray | float) -> FloatArray:
    """Return the drag coefficient of a long cylinder across the flow.

    Notes
    -----
    1 + 10 Re^(-2/3), a fit for 1 < Re < 2e5; White, Viscous Fluid Flow, from memory.
    """
    return np.asarray(1.0 + VISCOUS_DRAG * np.maximum(reynolds, 1.0) ** DRAG_POWER)


def sinking_mass(sink_m_s: float, wide_m: float, viscosity: float) -> float:
    """Return the mass per length [kg/m] of a line that sinks this fast in still water, lying level.

    Parameters
    ----------
    sink_m_s
        Sinking speed [m/s], >= 0.
    wide_m
        Diameter [m].
    viscosity
        Kinematic viscosity of the water [m2/s].

    Notes
    -----
    Weight under water = drag at that speed: w = 0.5 rho Cd d v^2. The ratio of weight to drag, and
    with it the slope of a tip in the current, is then right whatever its diameter.
    """
    drag = float(cylinder_drag(sink_m_s * wide_m / viscosity + 1.0))
    weight = 0.5 * WATER_DENSITY * drag * wide_m * sink_m_s**2
    return WATER_DENSITY * np.pi / 4 * wide_m**2 + weight / GRAVITY


def sink_rate(tip: Tip, settings: LineSettings) -> float:
    """Return how fast a tip sinks as it is fished [m/s].

    Rates on labels are of short pieces; a whole tip sinks slower, `sink_factor` times as fast.
    """
    return tip.sink_m_s * settings.sink_factor


def build_line(out_m: float, head: Head, tip: Tip, leader_m: float, settings: LineSettings) -> Line:
    """Return the line outside the rod tip.

    Parameters
    ----------
    out_m
        From the rod tip to the fly [m]; what exceeds head, tip and leader is running line, and a
        head too long for it stays partly in the rings.
    head, tip, leader_m
        From the kit.
    settings
        Thickness, density and fly.
    """
    beyond = tip.length_m + leader_m
    running = max(out_m - head.length_m - beyond, 0.0)
    outside = max(out_m - running - beyond, 0.5)
    wide = head_wide(head, settings)
    sinks = tip.sink_m_s > 0
    sink = sink_rate(tip, settings)
    tip_wide = settings.tip_wide_m if sinks else settings.floating_tip_wide_m
    tip_mass = (
        sinking_mass(sink, tip_wide, settings.viscosity)
        if sinks
        else _solid(tip_wide, settings.floating_density)
    )
    parts = [
        Part(
            running,
            settings.running_wide_m,
            _solid(settings.running_wide_m, settings.floating_density),
            floats=True,
        ),
        Part(outside, wide, _solid(wide, settings.floating_density), floats=True),
        Part(tip.length_m, tip_wide, tip_mass, floats=not sinks),
        Part(
            leader_m,
            settings.leader_wide_m,
            _solid(settings.leader_wide_m, settings.leader_density),
            floats=False,
        ),
    ]
    lengths = (
        settings.running_link_m,
        settings.head_link_m,
        settings.tip_link_m,
        settings.head_link_m,
    )
    return join_parts(
        [(part, size) for part, size in zip(parts, lengths, strict=True) if part.length_m > 1e-6],
        fly_mass=settings.fly_mass_kg,
        fly_heavy=settings.fly_heavy_kg * GRAVITY,
    )


def head_wide(head: Head, settings: LineSettings) -> float:
    """Return the thickness of a head [m]: from its own mass, else its family's.

    A round line of density rho: d = sqrt(4 m / (pi L rho)); geometry.
    """
    if math.isnan(head.mass_kg):
        return settings.head_wide_m.get(head.family, settings.head_wide_m["skagit"])
    dense = settings.floating_density * WATER_DENSITY
    return math.sqrt(4 * head.mass_kg / (math.pi * head.length_m * dense))


def join_parts(
    parts: list[tuple[Part, float]], *, fly_mass: float = 0.0, fly_heavy: float = 0.0
) -> Line:
    """Return parts as one line, each cut into links no longer than its size [m] allows by half.

    Parameters
    ----------
    parts
        Part and wanted length of its links, rod end first.
    fly_mass, fly_heavy
        Mass [kg] and weight under water [N] of what hangs at the end.
    """
    link, wide, dense, afloat = [], [], [], []
    for part, size in parts:
        count = max(1, round(part.length_m / size))
        link += [part.length_m / count] * count
        wide += [part.wide_m] * count
        dense += [part.mass_kg_m] * count
        afloat += [part.floats] * count
    length, thick, mass_m = np.array(link), np.array(wide), np.array(dense)
    heavy_m = (mass_m - WATER_DENSITY * np.pi / 4 * thick**2) * GRAVITY
    nodes = len(link) + 1
    mass, heavy, floats = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
    for end in (slice(0, -1), slice(1, None)):
        mass[end] += 0.5 * length * mass_m
        heavy[end] += 0.5 * length * heavy_m
        floats[end] = np.maximum(floats[end], np.array(afloat, dtype=np.float64))
    mass[-1] += fly_mass
    heavy[-1] += fly_heavy
    floats[-1] = 0.0 if fly_heavy > 0 else floats[-1]
    return Line(length, thick, mass, heavy, floats)


def lay_out(link: FloatArray, tip: FloatArray, direction_rad: FloatArray) -> FloatArray:
    """Return where the nodes of lines lie after the cast, shape (n, links + 1, 3).

    They lie straight out from the rod tip, on the water.

    Parameters
    ----------
    link
        Lengths of the links of n lines [m], shape (n, links); 0 beyond a shorter line's end.
    tip
        Rod tips (x, y, z) [m], shape (n, 3).
    direction_rad
        Directions of the casts, from east to north, shape (n,).

    Notes
    -----
    The first part comes down from the rod tip to the water at a slope of about 1 in 3; every link
    keeps its length.
    """
    along = np.zeros((link.shape[0], link.shape[1] + 1))
    np.cumsum(link, axis=1, out=along[:, 1:])
    height = np.maximum(0.0, tip[:, 2:] - along / 3.0)
    level = np.sqrt(link**2 - np.diff(height, axis=1) ** 2)
    place = np.zeros((*along.shape, 3))
    for axis, share in enumerate((np.cos(direction_rad), np.sin(direction_rad))):
        np.cumsum(level * share[:, None], axis=1, out=place[:, 1:, axis])
    place[:, :, :2] += tip[:, None, :2]
    place[:, :, 2] = height
    return place


def _solid(wide_m: float, density: float) -> float:
    """Return the mass per length of a round line [kg/m]."""
    return density * WATER_DENSITY * np.pi / 4 * wide_m**2
