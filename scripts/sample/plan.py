"""The made-up river in numbers: everything here is invented.

Lengths in metres, heights above a local datum that is invented too. `station` runs downstream along
the true centreline, `offset` is positive to river left.
"""

from __future__ import annotations

from reachmap.base.units import to_si

from .line import Bend, Line, bent_line
from .shapes import Crest

NAME = "Made-up River (invented)"
CRS = "EPSG:32607"
DATUM = "local datum (invented)"
HEAD = (477_900.0, 5_116_050.0)
"""Where the line begins: the middle of an ocean, far from any land."""

SLOPE = 0.002
HEAD_HEIGHT = 43.0
"""Height of the line through the riffle crests at station 0 [m]."""

BENDS = (
    Bend(140, 0),
    Bend(340, 60),
    Bend(420, -100),
    Bend(430, 120),
    Bend(400, -45),
    Bend(340, 75),
    Bend(360, -95),
    Bend(200, 0),
)
HEADING = 168.0

CRESTS_AND_POOLS = (
    (-230, 0.02, 0.4), (160, 0.00, 0.55), (495, 0.05, 0.95), (915, -0.02, 1.35), (1348, 0.06, 1.50),
    (1748, -0.04, 0.70), (2088, 0.03, 1.05), (2450, 0.00, 1.25), (2800, 0.00, 0.25),
)  # fmt: skip
"""Station of each riffle's crest, its height over the mean line, residual depth of its pool.

The pool is the one above the crest, dammed by it."""

WIDTH_WAVE = (
    (0, 0), (250, 1.5), (620, -1), (880, 2.0), (1150, -2), (1340, 1.5), (1500, -1.5), (1730, 2.0),
    (1900, -1.0), (2080, 3.0), (2300, -1.5), (2460, 1.5), (2630, 0),
)  # fmt: skip
"""What the half width gains or loses at stations."""

BANK_FULL = 1.85
"""Height of the bank tops above the line through the crests."""

MAP_FLOWS_CFS = (600, 900, 1300, 1800, 2400, 3200, 4200, 5400)
DEM_FLOW_CFS = 620
TRACED_FLOW_CFS = 900
EDGE_FLOWS_CFS = (1800, 4200)
EDGES_HIGH_BETWEEN = (170.0, 1330.0)
"""Stations between which the edge was seen at the higher of the two flows."""

RATING_FLOWS_CFS = (300, 450, 620, 900, 1300, 1800, 2400, 3200, 4200, 5400, 7000)
GAUGE_STATION = 2035.0
GAUGE_ZERO_M = 38.1

SIDE_BEGIN, SIDE_END = 1322.0, 1690.0
ISLAND_STRETCH = (1305.0, 1715.0)
"""Between these stations the right bank is that of the side channel."""

SIDE_SWING = 49.0
SIDE_SILL_OVER_LINE, SIDE_FOOT_OVER_LINE = 0.79, 0.25
"""Heights of the side channel's sill and foot over the line through the crests.

The sill rules when it wakes."""

LEDGE_OFFSETS = (-21.0, 13.0)

BOULDER_FIELDS = (
    (8, (330.0, 440.0), (-20.0, 14.0)),
    (12, (1800.0, 1915.0), (-24.0, 12.0)),
    (4, (1010.0, 1090.0), (-26.0, -12.0)),
)
"""How many boulders, between which stations and offsets."""

SINGLE_TREES = (
    (250.0, 47.0, 11.0, 6.0), (1085.0, 58.0, 14.0, 8.0), (1175.0, 66.0, 12.0, 7.0),
    (1890.0, 52.0, 9.0, 5.0), (1985.0, 55.0, 10.0, 6.0), (2290.0, -57.0, 13.0, 7.0),
)  # fmt: skip
"""Trees that stand alone: station, offset, height, width of the crown."""

SOUNDING_FLOWS_CFS = (700, 1100)
WORKED_OUT_CFS = tuple(
    sorted({*MAP_FLOWS_CFS, *RATING_FLOWS_CFS, *EDGE_FLOWS_CFS, *SOUNDING_FLOWS_CFS, DEM_FLOW_CFS})
)
"""Every flow for which the true river's water is worked out."""


def centreline() -> Line:
    """Return the true centreline."""
    return bent_line(BENDS, heading_deg=HEADING, start=HEAD)


def mean_line(station: float) -> float:
    """Return the height of the mean line through the crests [m]."""
    return HEAD_HEIGHT - SLOPE * station


def crests() -> list[Crest]:
    """Return the riffle crests."""
    return [Crest(s, mean_line(s) + up, pool) for s, up, pool in CRESTS_AND_POOLS]


def cfs(value: float) -> float:
    """Return a flow in m3/s."""
    return to_si(float(value), "cfs")
