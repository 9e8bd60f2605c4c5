"""Made rivers of different kinds, on true beds, to set the score against the length of runs.

Six are the project's own; the others are drawn by chance from one family of forms (bends, a
straight river, a canyon, a creek), each from its seed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base.words import Cover
from scripts.sample.cover import ROUGHNESS
from scripts.sample.line import Bend, bent_line
from scripts.sample.raster import Cells, Facts
from scripts.sample.shapes import Crest, eased, pool_riffle_profile, section_depth
from tests import reaches
from tests.reaches.laid import CRS, covered, ground_from
from tests.reaches.uneven import uneven
from tests.water import structure_river

CELL = 2.0
"""Size of the cells of all rivers but creeks [m]: on larger ones no wading is graded."""
HEAD = 100.0
LENGTH_M = 1200.0
"""About how long the drawn rivers are [m]."""


@dataclass(frozen=True, slots=True)
class ScoreRiver:
    """A river, its kind, how to make its true ground, and three flows [m3/s]."""

    name: str
    kind: str
    ground: Callable[[], xr.Dataset]
    flows: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Family:
    """What one river of the family is drawn from.

    Parameters
    ----------
    half
        Half the width between the bank tops [m].
    slope
        Fall of the bed [m/m].
    rough
        Manning's n of the bed.
    turn_deg
        Least and greatest turn of a bend [degrees]; both 0 for a straight river.
    pool
        Residual depth of its pools [m], least and greatest.
    rim
        Height of the bank tops over the riffles' crests [m].
    trees_m
        How far behind the bank tops, on the left and on the right, trees begin [m].
    wall
        Slope of the ground behind the bank tops: over 1 the wall of a canyon.
    boulders
        How many a hundred metres.
    cell
        Size of the cells [m].
    """

    half: float
    slope: float
    rough: float = 0.035
    turn_deg: tuple[float, float] = (30.0, 100.0)
    pool: tuple[float, float] = (0.8, 1.9)
    rim: float = 1.1
    trees_m: tuple[float, float] = (8.0, 8.0)
    wall: float = 0.12
    boulders: float = 0.0
    cell: float = CELL

    def flows(self) -> tuple[float, ...]:
        """Return flows that fill its riffles to 35, 60 and 90 % of the bank tops, by Manning."""
        depths = (share * self.rim for share in (0.35, 0.6, 0.9))
        wide = 2 * self.half * math.sqrt(self.slope) / self.rough
        return tuple(round(0.7 * wide * depth ** (5 / 3), 1) for depth in depths)

    def ground(self, seed: int) -> xr.Dataset:
        """Return the true ground of the river of a seed."""
        rng = np.random.default_rng(seed)
        low, high = self.turn_deg
        bends = round(LENGTH_M / (5.5 * 2 * self.half))
        turns = rng.uniform(low, high, bends) * (-1.0) ** np.arange(bends)
        lengths = rng.uniform(3.5, 7.5, bends) * 2 * self.half
        inner = [Bend(float(a), float(b)) for a, b in zip(lengths, turns, strict=True)]
        line = bent_line(
            [Bend(4 * self.half, 0), *inner, Bend(4 * self.half, 0)],
            heading_deg=float(rng.uniform(-40, 40)),
            start=(480_000.0, 5_110_000.0),
        )
        along = line.station
        ends = np.cumsum([0.0, 4 * self.half, *lengths, 4 * self.half])
        pools = [0.0, *rng.uniform(*self.pool, len(ends) - 1)]
        crests = [
            Crest(float(s), HEAD - self.slope * float(s), float(p))
            for s, p in zip(ends, pools, strict=True)
        ]
        thread_along = pool_riffle_profile(crests, along)
        lean_along = np.tanh(3.2 * self.half * np.interp(along - self.half, along, line.curvature))
        if high == 0:  # a straight river's deep water wanders from side to side all the same
            lean_along = 0.7 * np.sin(2 * np.pi * along / (11 * self.half) + rng.uniform(0, 6))
        waves = sum(
            np.sin(2 * np.pi * along / wave + rng.uniform(0, 6))
            for wave in rng.uniform(3, 9, 4) * self.half
        )
        half_along = self.half * (1 + 0.05 * waves)
        stones = _stones(line.length, self, rng)
        small = min(self.half / 16.0, 1.0)  # a creek's bed is less uneven

        def formulas(cells: Cells, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            s, n = cells.station, cells.offset
            lean, half = np.interp(s, along, lean_along), np.interp(s, along, half_along)
            bar = 0.35 * self.half
            left, right = half + bar * np.clip(lean, 0, 1), half + bar * np.clip(-lean, 0, 1)
            top = HEAD - self.slope * s + self.rim
            shape = section_depth((left - n) / (left + right), 0.5 + 0.3 * lean, 3 - np.abs(lean))
            bed = top - (top - np.interp(s, along, thread_along)) * shape
            out = np.maximum(n - left, -n - right)
            over = np.maximum(out, 0)
            outer = eased(-lean * np.sign(n), 0.1, 0.6)
            bank = outer * 1.4 * np.tanh(over) + (1 - outer) * np.tanh(over / 6) + self.wall * over
            bed = np.where(out > 0, top + bank, bed)
            bed = bed + small * uneven(x, y, s, n, seed) * np.where(out > 0, 0.4, 1.0)
            for at, away, radius, tall in stones:
                rho = np.hypot(s - at, n - away) / radius
                bed = bed + np.where(rho < 1, tall * (1 - rho**3), 0.0)
            near = np.where(n > 0, *self.trees_m)
            rock = (out > 0.5) & (self.wall > 1)
            kinds = [
                (out > 1, Cover.GRASS),
                (out > 0.5 * near, Cover.BRUSH),
                (out > near, Cover.TREES),
            ]
            return bed, covered(cells, [*kinds, (rock, Cover.ROCK)])

        facts = Facts(CRS, self.slope, 2 * half_along, {**ROUGHNESS, Cover.GRAVEL: self.rough})
        return ground_from(line, 2.4 * self.half + 24.0, self.cell, formulas, facts)


def _stones(
    length: float, family: Family, rng: np.random.Generator
) -> Sequence[tuple[float, float, float, float]]:
    """Return station, offset, radius and height of the boulders [m]."""
    count = round(family.boulders * length / 100)
    return [
        (
            float(rng.uniform(0, length)),
            float(rng.uniform(-0.8, 0.8) * family.half),
            float(rng.uniform(1.5, 3.2)),
            float(rng.uniform(0.5, 1.3)),
        )
        for _ in range(count)
    ]


STRAIGHT = (0.0, 0.0)
FAMILIES: dict[str, tuple[str, Family, int]] = {
    "bends, 50 m": ("bends", Family(25.0, 0.002), 41),
    "bends, 36 m, trees": ("bends", Family(18.0, 0.003, trees_m=(2.0, 14.0)), 42),
    "bends, 80 m": ("bends", Family(40.0, 0.0012, rough=0.03, rim=1.5), 43),
    "straight, 44 m": ("straight", Family(22.0, 0.002, turn_deg=STRAIGHT), 51),
    "straight, levees": (
        "straight",
        Family(30.0, 0.0012, turn_deg=STRAIGHT, trees_m=(3.0, 3.0), wall=0.5, pool=(0.4, 1.2)),
        52,
    ),
    "canyon, 28 m": (
        "canyon",
        Family(14.0, 0.006, rough=0.045, turn_deg=(15.0, 60.0), wall=1.4, boulders=4, rim=1.4),
        61,
    ),
    "canyon, 44 m": (
        "canyon",
        Family(22.0, 0.004, rough=0.042, turn_deg=(15.0, 50.0), wall=1.2, boulders=3, rim=1.6),
        62,
    ),
    "creek, 12 m": (
        "creek", Family(6.0, 0.006, rough=0.042, rim=0.8, pool=(0.5, 1.2), cell=1.0), 71,
    ),
    "creek, 16 m, brush": (
        "creek",
        Family(8.0, 0.004, rough=0.04, rim=0.9, pool=(0.5, 1.3), trees_m=(2.5, 9.0), cell=1.0),
        72,
    ),
}  # fmt: skip
"""Kind, form and seed of the rivers drawn by chance, by name."""


def rivers() -> list[ScoreRiver]:
    """Return all of them, by kind."""
    own = [
        ScoreRiver("winding", "bends", lambda: reaches.winding_ground(CELL), reaches.WINDING_FLOWS),
        ScoreRiver(
            "planted structures", "straight", structure_river.ground, structure_river.FLOWS[:3]
        ),
        ScoreRiver("braided", "split", lambda: reaches.braided_ground(CELL), reaches.BRAIDED_FLOWS),
        ScoreRiver("islands", "split", lambda: reaches.islands_ground(CELL), reaches.ISLANDS_FLOWS),
        ScoreRiver("steep", "canyon", lambda: reaches.steep_ground(CELL), reaches.STEEP_FLOWS),
        ScoreRiver("ledges", "canyon", lambda: reaches.ledges_ground(CELL), reaches.LEDGES_FLOWS),
    ]
    drawn = [
        ScoreRiver(name, kind, lambda f=form, s=seed: f.ground(s), form.flows())  # type: ignore[misc]
        for name, (kind, form, seed) in FAMILIES.items()
    ]
    return sorted([*own, *drawn], key=lambda one: one.kind)
