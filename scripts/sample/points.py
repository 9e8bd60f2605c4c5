"""What the angler noted at places: soundings, speeds, levels, rocks, hazards, access, runs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon

from reachmap.base.units import from_si

from . import bed, plan
from .line import Line
from .water import TrueWater

FloatArray = NDArray[np.float64]
Row = Mapping[str, Any]

SOUNDINGS = 25
SOUNDING_ERROR_M = 0.05
SURFACE_FACTOR = 7 / 6
"""Surface speed over mean speed: a profile that grows with the sixth root of the height."""

RUNS = (
    ("Teakettle", 165, 485), ("Long Alder", 520, 885), ("Broken Stair", 905, 1025),
    ("The Elbow", 1045, 1320), ("Island Glide", 1375, 1735), ("Sandpiper", 1770, 2080),
    ("Lantern Pool", 2205, 2450),
)  # fmt: skip
"""Invented names of stretches, with their stations."""

ACCESS = (
    (1235.0, 92.0, "parking", "Gravel pull-out, room for three (invented)"),
    (1205.0, 47.0, "path", "Path through the meadow to the head of the bar (invented)"),
    (1930.0, 47.0, "path", "Along the meadow to the sand bar (invented)"),
    (2000.0, 34.0, "landing", "Boats can land on the sand at most flows (invented)"),
    (300.0, 52.0, "path", "From the upper meadow (invented)"),
)
"""Station, offset, kind, note."""


def _at(line: Line, station: float, offset: float) -> Point:
    """Return a place on the river."""
    x, y = line.place(np.array([station]), np.array([offset]))
    return Point(round(float(x[0]), 2), round(float(y[0]), 2))


def sounding_rows(water: TrueWater) -> list[Row]:
    """Return soundings on two days: true depth and a small error, to the tenth of a foot."""
    rng = np.random.default_rng(61)
    rows: list[Row] = []
    stations = np.linspace(70.0, 2580.0, SOUNDINGS) + rng.uniform(-35, 35, SOUNDINGS)
    for number, station in enumerate(stations, start=1):
        flow = plan.SOUNDING_FLOWS_CFS[number % 2]
        s = np.array([station])
        left, right = (float(water.edge(flow, s, side)[0][0]) for side in (1, -1))
        for _ in range(50):
            offset = right + (left - right) * rng.beta(2, 2)
            depth = float(water.look_up("level", flow, s, np.array([offset]))[0])
            depth -= float(water.bed_at(s, np.array([offset]))[0])
            if 0.3 <= depth <= 3.0:
                break
        told = from_si(depth + rng.normal(0, SOUNDING_ERROR_M), "ft")
        place = _at(water.line, station, offset)
        rows.append(
            {"name": f"S{number}", "depth": round(told, 1), "flow": float(flow), "geometry": place}
        )
    return rows


def speed_rows(water: TrueWater) -> list[Row]:
    """Return speeds: sticks timed on the surface, and one by meter."""
    rng = np.random.default_rng(62)
    rows: list[Row] = []
    for number, (station, offset) in enumerate(
        ((420, -8), (840, 6), (1290, -10), (1690, 0), (2040, 5), (2400, 4))
    ):
        s, n = np.array([float(station)]), np.array([float(offset)])
        east = float(water.look_up("east_speed", plan.TRACED_FLOW_CFS, s, n)[0])
        north = float(water.look_up("north_speed", plan.TRACED_FLOW_CFS, s, n)[0])
        how = "mean" if number == 3 else "surface"
        true = np.hypot(east, north) * (1.0 if how == "mean" else SURFACE_FACTOR)
        told = from_si(true * (1 + rng.normal(0, 0.06)), "ft/s")
        place = _at(water.line, station, offset)
        rows.append({"speed": round(told, 1), "flow": float(plan.TRACED_FLOW_CFS), "how": how,
                     "geometry": place})  # fmt: skip
    return rows


def level_rows(water: TrueWater) -> list[Row]:
    """Return levels of the water taken at the edge, at two flows."""
    rng = np.random.default_rng(63)
    rows: list[Row] = []
    for flow, stations in ((plan.TRACED_FLOW_CFS, (20, 700, 1500)), (2400, (1250, 2600))):
        for station in stations:
            s = np.array([float(station)])
            edge = float(water.edge(flow, s, 1)[0][0])
            told = from_si(float(water.level_at(flow, s)[0]) + rng.normal(0, 0.02), "ft")
            place = _at(water.line, station, edge - 0.5)
            rows.append({"level": round(told, 1), "flow": float(flow), "geometry": place})
    return rows


def rock_rows(line: Line) -> list[Row]:
    """Return the boulders one sees: those above a size, a little off."""
    rng = np.random.default_rng(64)
    rows: list[Row] = []
    for boulder in bed.boulders(line):
        off = rng.normal(0, 0.7, 2)
        if boulder.radius > 1.0:
            place = Point(round(boulder.x + off[0], 2), round(boulder.y + off[1], 2))
            height = round(2 * from_si(boulder.height, "ft")) / 2
            size = round(from_si(2 * boulder.radius, "ft"))
            rows.append({"height": height, "size": float(size), "geometry": place})
    return rows


def tree_rows(line: Line) -> list[Row]:
    """Return the trees that stand alone."""
    return [
        {
            "height": float(round(from_si(height, "ft") / 5) * 5),
            "size": float(round(from_si(crown, "ft"))),
            "geometry": _at(line, station, offset),
        }
        for station, offset, height, crown in plan.SINGLE_TREES
    ]


def hazard_rows(water: TrueWater) -> list[Row]:
    """Return what can hurt along the river."""
    line = water.line
    low, high = plan.LEDGE_OFFSETS
    across = np.linspace(low, high, 5)
    ledge = LineString(np.column_stack(line.place(bed.ledge_station(across), across)))
    s = np.arange(2250.0, 2381.0, 26.0)
    under = LineString(
        np.column_stack(line.place(s, water.edge(plan.TRACED_FLOW_CFS, s, 1)[0] + 0.5))
    )
    s = np.array([1640.0, 1676.0])
    middle, half = bed.side_offset(s), bed.side_half_width(s) - 2
    ring = np.vstack([np.column_stack(line.place(s, middle - half)),
                      np.column_stack(line.place(s, middle + half))[::-1]])  # fmt: skip
    head = plan.SIDE_BEGIN + 40
    mouth = float(bed.side_offset(np.array([head]))[0])
    edge = float(water.edge(plan.TRACED_FLOW_CFS, np.array([1180.0]), -1)[0][0])
    told = (
        ("strainer", "Brush across the head of the side channel when it runs",
         _at(line, head, mouth)),
        ("strainer", "Fallen spruce, root still on the bank", _at(line, 1180.0, edge + 3.0)),
        ("ledge", "Rock step right across the fast water", ledge),
        ("undercut", "The bank is hollow here", under),
        ("soft bottom", "Silt in the slack at the mouth of the side channel", Polygon(ring)),
    )  # fmt: skip
    return [{"kind": k, "note": f"{note} (invented)", "geometry": g} for k, note, g in told]


def access_rows(line: Line) -> list[Row]:
    """Return the ways to the water."""
    return [
        {"kind": kind, "note": note, "geometry": _at(line, station, offset)}
        for station, offset, kind, note in ACCESS
    ]


def run_rows(line: Line) -> list[Row]:
    """Return the angler's own stretches, each from bank to bank."""
    channel = bed.main_channel(line)
    rows: list[Row] = []
    for name, begin, end in RUNS:
        s = np.linspace(begin, end, 9)
        _, left, right = channel.at(s)
        ring = np.vstack([np.column_stack(line.place(s, left + 4)),
                          np.column_stack(line.place(s, -right - 4))[::-1]])  # fmt: skip
        rows.append({"name": name, "geometry": Polygon(np.round(ring, 1))})
    return rows
