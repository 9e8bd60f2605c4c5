"""Made rivers of many kinds with honest evidence and its usual noise, for counting false alarms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from shapely import LineString

from reachmap.ground.dem import Dem
from reachmap.markup.model import Edge, Markup
from tests.ground.scenes import River2, drawing, flown, pool_riffle, with_soundings


@dataclass(frozen=True)
class Honest:
    """A river with what an honest angler gives of it: drawing with soundings, DEM, low flow."""

    river: River2
    markup: Markup
    dem: Dem
    low: float


def honest(seed: int, cell: float) -> Honest:
    """Return a river of random width, slope, roughness, bends and bed, honestly drawn and flown."""
    rng = np.random.default_rng(100 + seed)
    half, slope = rng.choice([12.0, 20.0, 30.0, 45.0]), rng.choice([0.0008, 0.002, 0.005])
    river = pool_riffle(
        length=900,
        wavelength=rng.choice([350, 500, 700]),
        turn_deg=rng.choice([15, 35, 50]),
        half=half,
        slope=slope,
        roughness=rng.uniform(0.028, 0.045),
        seed=seed,
        bumps=rng.choice([0.06, 0.12, 0.2]),
        exponent=rng.uniform(1.8, 3.2),
        lean=rng.uniform(0.3, 0.8),
    )
    low = float(20 * (half / 30) ** 1.7 * (slope / 0.002) ** 0.5)
    flows = (3 * low, 7 * low) if seed % 3 else (1.5 * low, 3 * low)
    markup = drawing(
        river,
        low,
        edge_flows=flows if seed % 4 else (),
        jitter=rng.uniform(1, 4),
        seed=seed,
        dem_flow=0.75 * low,
    )
    markup = replace(markup, edges=tuple(shaken(markup.edges, rng, rng.choice([0.5, 1.0, 1.5]))))
    sounded = float(low * rng.choice([0.8, 1.0, 1.5]))
    count = int(rng.choice([6, 12, 25, 40]))
    markup = with_soundings(markup, river, sounded, count, error=0.06, seed=seed)
    noise = float(rng.choice([0.0, 0.03, 0.05]))
    return Honest(river, markup, flown(river, markup, 0.75 * low, cell=cell, noise=noise), low)


def shaken(edges: tuple[Edge, ...], rng: np.random.Generator, error: float) -> Iterator[Edge]:
    """Yield edges with the errors of a hand: standard deviation `error` [m], alike over 40 m."""
    for edge in edges:
        places = np.asarray(edge.shape.coords)
        rows = np.arange(len(places))
        knots = rows[::4]
        off = [np.interp(rows, knots, rng.normal(0, error, knots.size)) for _ in range(2)]
        yield replace(edge, shape=LineString(places + np.stack(off, axis=1)))
