"""Made rivers whose true bed is known everywhere, and the drawings an angler would make of them.

Nothing here calls the bed code under test: the truth is a formula in (station, offset), its water
levels come from a small standard-step solution of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from shapely import LineString, Point, Polygon

from reachmap.base.centreline import Centreline
from reachmap.base.words import Cover, Hand, Part, Season, Side, UnitSystem
from reachmap.ground.corridor import grid_of
from reachmap.ground.dem import Dem
from reachmap.markup.dem_note import DemNote
from reachmap.markup.kit import Angler, Kit
from reachmap.markup.model import Bank, Edge, Markup, Plan, River, SeasonLimits, Sounding
from tests.made import CRS, ORIGIN_X, ORIGIN_Y, wavy_line

G = 9.80665
KIT = Kit(Angler(1.8, 1.0, Hand.LEFT, 1.2, 27.0), (), (), ())
WINTER = SeasonLimits(Season.WINTER, 0.6, 1.8, 0.2, 1.0)


@dataclass(frozen=True)
class River2:
    """A true river: bed(station, offset) along a true line, Manning's n, levels by flow.

    With `stones` [m] n is that of deep water, and n^2 greater by 6.76 (stones/depth)^(5/3).
    """

    line: Centreline
    offset: np.ndarray  # columns of the sections [m]
    bed: np.ndarray  # (vertices, columns) [m]
    roughness: float
    slope: float
    stones: float = 0.0

    def section_level(self, flow: float) -> np.ndarray:
        """Return the level at each vertex: standard step upstream from normal depth at the foot."""
        spacing = self.offset[1] - self.offset[0]
        level = np.empty(len(self.bed))

        def carry(row, z):
            depth = np.maximum(z - self.bed[row], 0)
            area = depth.sum() * spacing
            unit = depth ** (5 / 3)
            # depth^(5/3) / sqrt(1 + term / depth^(5/3)), which is depth^(5/3) without stones
            term = 6.76 * self.stones ** (5 / 3)
            unit = unit * np.sqrt(unit / np.maximum(unit + term, 1e-12))
            return unit.sum() * spacing / self.roughness, area

        def normal(row):
            low, high = self.bed[row].min(), self.bed[row].min() + 10
            for _ in range(50):
                middle = (low + high) / 2
                if carry(row, middle)[0] * np.sqrt(self.slope) < flow:
                    low = middle
                else:
                    high = middle
            return high

        level[-1] = normal(len(self.bed) - 1)
        step = self.line.step
        for row in range(len(self.bed) - 2, -1, -1):
            k1, a1 = carry(row + 1, level[row + 1])
            low = level[row + 1] - 0.02
            # critical depth bounds the search from below
            high = level[row + 1] + 1.0

            def miss(z, row=row, k1=k1, a1=a1, below=level[row + 1]):
                k0, a0 = carry(row, z)
                fall = step * flow**2 * 0.5 * (1 / k0**2 + 1 / k1**2)
                return z + (flow / a0) ** 2 / (2 * G) - below - (flow / a1) ** 2 / (2 * G) - fall

            floor = self.bed[row].min() + 0.05
            low = max(low, floor)
            for _ in range(40):
                middle = (low + high) / 2
                if miss(middle) < 0:
                    low = middle
                else:
                    high = middle
            level[row] = high
        return level

    def edges(self, level: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return offsets of the outermost wet points at a level, left and right."""
        wet = self.bed < level[:, None]
        first = wet.argmax(axis=1)
        last = len(self.offset) - 1 - wet[:, ::-1].argmax(axis=1)
        return self._cross(last, level, 1), self._cross(first, level, -1)

    def _cross(self, column, level, step):
        rows = np.arange(len(level))
        inner = self.bed[rows, column]
        outer = self.bed[rows, np.clip(column + step, 0, len(self.offset) - 1)]
        share = np.clip((level - inner) / np.where(outer > inner, outer - inner, np.inf), 0, 1)
        return self.offset[column] + step * share * (self.offset[1] - self.offset[0])

    def at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Return the true bed at places; NaN beyond the sections."""
        from scipy.ndimage import map_coordinates

        station, offset = self.line.to_station_offset(x.ravel(), y.ravel())
        row = station / self.line.step
        col = (offset - self.offset[0]) / (self.offset[1] - self.offset[0])
        got = map_coordinates(self.bed, [row, col], order=1, mode="constant", cval=np.nan)
        got[(station < 0) | (station > self.line.length)] = np.nan
        return got.reshape(x.shape)

    def level_at(self, level: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Return a level by vertex at places."""
        station, _ = self.line.to_station_offset(x.ravel(), y.ravel())
        return np.interp(station, self.line.station, level).reshape(x.shape)


def straight_trapezoid(
    *, length=600.0, bottom=20.0, bank_slope=0.5, slope=0.002, roughness=0.035, angle=0.0
) -> River2:
    """Return a prismatic trapezoid: bottom at 98 m at the head, banks rising `bank_slope`."""
    x = np.array([0.0, length * np.cos(angle)]) + ORIGIN_X
    y = np.array([0.0, length * np.sin(angle)]) + ORIGIN_Y
    line = Centreline.through(x, y, 2.0)
    offset = np.arange(-60, 60.25, 0.25)
    section = np.maximum(np.abs(offset) - bottom / 2, 0) * bank_slope
    bed = 98 - slope * line.station[:, None] + section[None, :]
    return River2(line, offset, bed, roughness, slope)


def pool_riffle(
    *,
    length=1500.0,
    wavelength=500.0,
    turn_deg=50.0,
    half=30.0,
    slope=0.002,
    roughness=0.033,
    seed=1,
    mirror=False,
    exponent=2.6,
    lean=0.7,
    bumps=0.06,
) -> River2:
    """Return a meandering pool-riffle river: deep outside in bends, shoals between them.

    `bumps` is the standard deviation of what no form can foresee [m].
    """
    x, y, _, _ = wavy_line(length, wavelength, turn_deg)
    if mirror:
        y = -y
    line = Centreline.through(x + ORIGIN_X, y + ORIGIN_Y, 2.0)
    offset = np.arange(-half - 45, half + 45.5, 0.5)
    from scipy.ndimage import gaussian_filter, gaussian_filter1d

    turn = gaussian_filter1d(line.curvatures, 10, mode="nearest")
    rows = np.arange(len(turn))
    lagged = np.interp(rows - 15, rows, turn)
    lagged = lagged / max(np.abs(lagged).max(), 1e-3)
    deep = 1.9 + 0.9 * np.abs(lagged) - 0.45
    across = offset[None, :] / half
    shape = (1 - np.abs(across) ** exponent) * (1 - lean * lagged[:, None] * across)
    beyond = np.maximum(np.abs(offset) - half, 0)[None, :]
    bed = np.where(np.abs(across) < 1, -deep[:, None] * shape, np.minimum(beyond * 0.3, 4.0))
    rng = np.random.default_rng(seed)
    rough = gaussian_filter(rng.standard_normal(bed.shape), (6, 12))
    if mirror:
        rough = rough[:, ::-1]
    bed = bed + bumps * rough / rough.std() + 100 - slope * line.station[:, None]
    return River2(line, offset, bed, roughness, slope)


def drawing(
    river: River2,
    traced: float,
    *,
    edge_flows: tuple[float, ...] = (),
    jitter: float = 2.0,
    seed: int = 3,
    rise_m: float | None = None,
    bank_width: float = 30.0,
    dem_flow: float = np.nan,
    say_slope: bool = True,
) -> Markup:
    """Return what an angler would draw of the river: line, banks, edges; no soundings."""
    rng = np.random.default_rng(seed)
    line = river.line
    level = river.section_level(traced)
    left, right = river.edges(level)
    knots = np.arange(0, line.length + 1, 25.0)
    wobble = np.interp(line.station, knots, rng.normal(0, jitter, len(knots)))
    middle = np.column_stack(line.from_station_offset(line.station, (left + right) / 2 + wobble))
    drawn = LineString(np.vstack([middle[:-4:8], middle[-1]]))
    banks = []
    for side, edge, sign in ((Side.LEFT, left, 1), (Side.RIGHT, right, -1)):
        outer = edge + sign * bank_width
        ring = np.vstack(
            [
                np.column_stack(line.from_station_offset(line.station, edge))[::3],
                np.column_stack(line.from_station_offset(line.station, outer))[::-3],
            ]
        )
        rise = np.nan
        if rise_m is not None:
            rise = rise_m
        banks.append(
            Bank(
                f"{side.value} bank", Polygon(ring).buffer(0), side, Cover.GRAVEL, rise, np.nan, ""
            )
        )
    edges = []
    for flow in edge_flows:
        for edge in river.edges(river.section_level(flow)):
            shape = LineString(np.column_stack(line.from_station_offset(line.station, edge))[::5])
            edges.append(Edge(shape, flow, ""))
    plan = Plan(
        "made",
        UnitSystem.METRIC,
        river.slope if say_slope else np.nan,
        traced,
        (20.0, 60.0, 140.0),
        WINTER,
        KIT,
        DemNote(dem_flow, "m", ""),
    )
    return Markup(CRS, plan, (River("made", Part.MAIN, drawn),), tuple(banks), edges=tuple(edges))


def with_soundings(
    markup: Markup, river: River2, flow: float, count: int, *, error: float = 0.05, seed: int = 7
) -> Markup:
    """Return the drawing with soundings spread zigzag along the river, depths at `flow`."""
    rng = np.random.default_rng(seed)
    level = river.section_level(flow)
    left, right = river.edges(level)
    stations = np.linspace(0.03, 0.97, count) * river.line.length
    shares = np.resize([-0.6, 0.0, 0.6, 0.25, -0.3], count)
    made = []
    for number, (s, share) in enumerate(zip(stations, shares, strict=True)):
        on_left, on_right = (np.interp(s, river.line.station, edge) for edge in (left, right))
        n = (on_left + on_right) / 2 + share * (on_left - on_right) / 2
        x, y = river.line.from_station_offset(np.array([s]), np.array([n]))
        bed = river.at(x, y)[0]
        depth = np.interp(s, river.line.station, level) - bed + rng.normal(0, error)
        if depth > 0.1:
            made.append(Sounding(f"S{number + 1}", Point(x[0], y[0]), float(depth), flow, np.nan))
    return replace(markup, soundings=tuple(made))


def flown(
    river: River2, markup: Markup, flow: float, *, cell=2.0, margin=30.0, noise=0.0, said=True
) -> Dem:
    """Return the DEM of a day with `flow`: water flat across, no bed beneath it."""
    grid = grid_of(markup, cell, margin)
    x, y = np.meshgrid(grid.x, grid.y)
    bed = river.at(x, y)
    water = river.level_at(river.section_level(flow), x, y)
    height = np.maximum(bed, water)
    if noise:
        height = height + np.random.default_rng(5).normal(0, noise, height.shape)
    return Dem(height.astype(np.float32), flow if said else np.nan, "made datum")
