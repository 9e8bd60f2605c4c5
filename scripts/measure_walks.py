"""Measure what a walked edge and a drift are worth with a phone's error; docs/evidence.md.

    python -m scripts.measure_walks [--seeds 6]

Made rivers with low benches, uneven, flows 7 % off what was read (`scripts/fit_cases.py`). The edge
at the middle flow is walked, and a kayak drifts down the deepest water at the middle flow, at the
true speed of the surface; a phone logs both, off by `PHONE_M` alike over a minute. The tracks are
read as a reach folder reads them. Walked edges are judged on the ground made without a terrain
model, and both as notes of `fit` on the ground made with one; by the quick profile.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from reachmap.ground.fit import fit  # noqa: E402
from reachmap.markup.drifted import drifted_speeds  # noqa: E402
from reachmap.markup.features import Feature  # noqa: E402
from reachmap.markup.model import Edge, Markup, Speed  # noqa: E402
from reachmap.markup.plan_parts import SounderNote  # noqa: E402
from reachmap.markup.tracks import Frame  # noqa: E402
from reachmap.markup.walked import walked_edges  # noqa: E402
from reachmap.markup.ways import Way  # noqa: E402
from scripts.fit_cases import LOW, SETTINGS, River, noted  # noqa: E402
from scripts.measure_fit import QUICK, figures, put_to_use, told  # noqa: E402

PHONE_M, MEMORY_S = 3.0, 60.0
"""A phone's error either way, and how long it stays alike (from memory: metres, a minute)."""

WALK_M_S = 1.0
MIDDLE = 3 * LOW


def as_logged(x: FloatArray, y: FloatArray, name: str, off_m: float, seed: int) -> list[Way]:
    """Return places one a second as a phone logs them."""
    rng = np.random.default_rng(seed)
    off, keep = np.zeros((x.size, 2)), np.exp(-1 / MEMORY_S)
    off[0] = rng.normal(0, off_m, 2)
    for k in range(1, x.size):
        off[k] = keep * off[k - 1] + rng.normal(0, off_m * np.sqrt(1 - keep**2), 2)
    seconds = np.arange(x.size, dtype=np.float64)
    return [Way(f"{name} {MIDDLE:g}cms.gpx", x + off[:, 0], y + off[:, 1], seconds)]


def drawn_features(markup: Markup) -> tuple[tuple[Feature, ...], tuple[Feature, ...]]:
    """Return river lines and banks as the readers of tracks take them."""
    rivers = tuple(Feature("river", one.name, one.line, {}) for one in markup.rivers)
    banks = tuple(
        Feature("banks", one.name, one.outline, {"side": one.side}) for one in markup.banks
    )
    return rivers, banks


def walked(river: River, off_m: float, seed: int) -> tuple[Edge, ...]:
    """Return the edges at the middle flow as walked, one after the other."""
    rivers, banks = drawn_features(river.notes)
    frame = Frame(river.notes.crs, "", UnitSystem.METRIC, "", None, SounderNote())
    found: list[Edge] = []
    edges = [one for one in river.notes.edges if one.flow == MIDDLE]
    for number, edge in enumerate(edges):
        for part in getattr(edge.shape, "geoms", [edge.shape]):
            at = np.arange(0.0, part.length, WALK_M_S)
            if at.size < 40:
                continue
            x, y = shapely.get_coordinates(shapely.line_interpolate_point(part, at)).T
            ways = as_logged(x, y, "edge", off_m, 10 * seed + number)
            found += walked_edges(ways, rivers, banks, frame).edges
    return tuple(found)


def drifted(river: River, off_m: float, seed: int) -> tuple[Speed, ...]:
    """Return the speeds of a drift at the middle flow."""
    water = river.water.isel(flow=1)
    line = Centreline.of(river.truth)
    x0, y0 = (river.truth[name].to_numpy() for name in "xy")
    speed = np.hypot(water["east_speed"], water["north_speed"]).to_numpy()
    depth = np.nan_to_num(water["depth"].to_numpy())
    station, offset = (river.truth[name].to_numpy() for name in ("station", "offset"))
    nodes = np.arange(20.0, line.foot - 20, 20.0)
    deep = [
        offset.ravel()[int(np.argmax(np.where(np.abs(station - node) < 10, depth, -1.0)))]
        for node in nodes
    ]
    calm = np.convolve(np.pad(deep, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
    at, places = nodes[0], []
    cell = x0[1] - x0[0]
    while at < nodes[-1]:
        east, north = line.from_station_offset(np.array([at]), np.interp([at], nodes, calm))
        here = speed[round((y0[0] - north[0]) / cell), round((east[0] - x0[0]) / cell)]
        places.append((east[0], north[0]))
        at += max(float(np.nan_to_num(here)), 0.1) / SETTINGS.fitting.surface_factor
    x, y = np.array(places).T
    rivers, banks = drawn_features(river.notes)
    frame = Frame(river.notes.crs, "", UnitSystem.METRIC, "", None, SounderNote())
    read = drifted_speeds(as_logged(x, y, "float", off_m, seed), rivers, banks, frame)
    if read.wrong is not None:
        print("   not used:", read.wrong[0])
    return read.speeds


def rows(seed: int) -> Iterator[tuple[str, dict[str, tuple[float, float]]]]:
    """Yield what is given on one river, and speed [m/s] and overlap by flow."""
    river = noted(seed, 10)
    flows, settings = river.case.flows, FlowSettings()
    bare = replace(river.notes, edges=(), speeds=(), soundings=river.notes.soundings)
    said = replace(bare, plan=replace(bare.plan, slope=river.case.slope))
    middle = tuple(one for one in river.notes.edges if one.flow == MIDDLE)
    for name, edges in (
        ("no DEM: traced edge alone", ()),
        ("no DEM: edge at the middle flow drawn exactly", middle),
        ("no DEM: the same walked, phone exact", walked(river, 0.0, seed)),
        (f"no DEM: the same walked, phone {PHONE_M:g} m off", walked(river, PHONE_M, seed)),
    ):
        ground = build_ground(replace(said, edges=edges), None, SETTINGS)
        yield name, figures(ground, river.water, flows, settings)
    ground = build_ground(bare, river.case.dem, SETTINGS)
    yield "DEM: as drawn", figures(ground, river.water, flows, settings)
    for name, notes in (
        (
            f"DEM: fit to a walked edge, phone {PHONE_M:g} m off",
            replace(bare, edges=walked(river, PHONE_M, seed)),
        ),
        ("DEM: fit to a drift, phone exact", replace(bare, speeds=drifted(river, 0.0, seed))),
        (
            f"DEM: fit to a drift, phone {PHONE_M:g} m off",
            replace(bare, speeds=drifted(river, PHONE_M, seed)),
        ),
        ("DEM: fit to ten sticks at the high flow", replace(bare, speeds=river.notes.speeds)),
    ):
        found = fit(ground, notes, QUICK, SETTINGS)
        got = figures(put_to_use(ground, found, SETTINGS), river.water, flows, settings)
        yield name, got


def main() -> None:
    """Measure and print the means."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seeds", type=int, default=6)
    asked = words.parse_args()
    kept: dict[str, list[dict[str, tuple[float, float]]]] = {}
    for seed in range(1, asked.seeds + 1):
        for name, got in rows(seed):
            kept.setdefault(name, []).append(got)
            print(seed, told(name, got), flush=True)
    for name, many in kept.items():
        mean = {flow: tuple(np.mean([one[flow] for one in many], axis=0)) for flow in many[0]}
        print(told(name, mean))


if __name__ == "__main__":
    main()
