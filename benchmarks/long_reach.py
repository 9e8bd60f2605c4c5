"""A made product as long and as full as a map is built for: 10 km, ten flows, cells of 1 m.

Nothing in it was computed; it only has the size and the roughness of the real thing.
"""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from shapely import LineString, Point, Polygon

from reachmap.base.schema import LAYERS, layer_frame, table_frame
from reachmap.base.units import flow_label, to_si
from reachmap.base.words import Hand, Part, Season, UnitSystem, Wet
from reachmap.markup.kit import Angler, Head, Kit, Rod, Tip
from reachmap.markup.model import DemNote, Markup, NamedRun, Plan, River, SeasonLimits
from reachmap.outputs.product import Product

CRS = "EPSG:32607"
LEFT, MIDDLE = 500_000.0, 5_117_000.0
SWING, WAVE, HALF = 110.0, 700.0, 40.0
"""How far the river swings aside, how long a swing is, half its width when full [m]."""


def long_product(*, length: float = 10_000.0, flows: int = 10, cell: float = 1.0) -> Product:
    """Return a made product of `length` [m] with about 250 features a flow for 10 km.

    An ensemble stands behind it, as in the usual build.
    """
    x = np.arange(cell / 2, length, cell)
    y = np.arange(-260.0 + cell / 2, 260.0, cell)[::-1]
    ground, level = _ground(x, y, cell)
    values = np.array([to_si(600 * 1.32**k, "cfs") for k in range(flows)])
    labels = [flow_label(float(value), UnitSystem.US) for value in values]
    layers = _layers(length, values, labels)
    report = {"made_from": ["made up"], "warnings": [], "confidence": "fair", "invented": True}
    flowing = _flows(ground, level, values, labels)
    doubt = _doubt(flowing)
    table = _table(layers, values, labels)
    return Product(_markup(length, values), ground, flowing, layers, report, False, table, doubt)


def _line(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return how far north the river runs and its direction [radians]."""
    phase = 2 * np.pi * x / WAVE
    return SWING * np.sin(phase), np.arctan(SWING * 2 * np.pi / WAVE * np.cos(phase))


def _ground(x: np.ndarray, y: np.ndarray, cell: float) -> tuple[xr.Dataset, np.ndarray]:
    """Return the ground, and the level of full banks at each cell."""
    middle, turn = _line(x)
    offset = (y[:, None] - middle[None, :]) * np.cos(turn)[None, :]
    rough = 0.07 * np.sin(x[None, :] / 3.1) * np.cos(y[:, None] / 2.3)
    pool = 0.6 * np.cos(4 * np.pi * x / WAVE)[None, :]
    across = np.abs(offset) / HALF
    shape = np.where(across < 1, -(2.0 + pool) * (1 - across**2), np.minimum((across - 1) * 9, 6))
    level = np.broadcast_to(50 - 0.0015 * x[None, :], shape.shape)
    bed = (level + shape + rough).astype(np.float32)
    dims = ("y", "x")
    vertex = np.arange(0, x[-1], 5.0)
    north, _ = _line(vertex)
    data = {
        "bed": (dims, bed),
        "surface": (dims, bed + np.where(across > 1.6, 5, 0).astype(np.float32)),
        "confidence": (dims, np.where(np.sin(x / 400)[None, :] > -0.8, 0.8, 0.2) + 0 * bed),
        "station": (dims, np.broadcast_to(x[None, :].astype(np.float32), bed.shape)),
        "line_x": (("vertex",), vertex + LEFT),
        "line_y": (("vertex",), north + MIDDLE),
        "line_station": (("vertex",), vertex),
        "line_width": (("vertex",), np.full(vertex.size, 2.0 * HALF)),
    }
    coords = {"x": x + LEFT, "y": y + MIDDLE}
    return xr.Dataset(data, coords, {"crs": CRS, "cell": cell}), level


def _flows(
    ground: xr.Dataset, level: np.ndarray, values: np.ndarray, labels: list[str]
) -> xr.Dataset:
    """Return depth and speed at each flow."""
    _, turn = _line(ground["x"].to_numpy() - LEFT)
    bed = ground["bed"].to_numpy()
    shape = (values.size, *bed.shape)
    depth = np.full(shape, np.nan, dtype=np.float32)
    east, north = depth.copy(), depth.copy()
    wet = np.zeros(shape, dtype=np.uint8)
    for index in range(values.size):
        here = level + (-1.3 + 0.18 * index) - bed
        is_wet = here > 0.02
        speed = 1.1 * np.maximum(here, 0) ** (2 / 3)
        wet[index] = np.where(is_wet, Wet.YES, Wet.NO)
        depth[index] = np.where(is_wet, here, np.nan)
        east[index] = np.where(is_wet, speed * np.cos(turn)[None, :], np.nan)
        north[index] = np.where(is_wet, speed * np.sin(turn)[None, :], np.nan)
    dims = ("flow", "y", "x")
    data = {
        "level": (dims, depth + bed),
        "depth": (dims, depth),
        "east_speed": (dims, east),
        "north_speed": (dims, north),
    }
    coords = {"flow": values, "asked": ("flow", labels), "x": ground["x"], "y": ground["y"]}
    return xr.Dataset(data | {"wet": (dims, wet)}, coords, dict(ground.attrs))


def _doubt(flowing: xr.Dataset) -> xr.Dataset:
    """Return an ensemble of twelve members that agree the less the deeper it is, roughly so."""
    depth = flowing["depth"].to_numpy()
    rough = np.random.default_rng(1).normal(0, 0.05, depth.shape[1:]).astype(np.float32)
    agreement = np.round(12 * np.clip(1.05 - 0.3 * depth + rough, 0, 1)) / 12
    chance = np.where(np.isnan(depth), 0, np.clip(0.4 + 2 * np.nan_to_num(depth), 0, 1))
    dims = ("flow", "y", "x")
    fields = {
        "agreement": (dims, agreement.astype(np.float32)),
        "depth_spread": (dims, (0.12 * depth * (1 + rough)).astype(np.float32)),
        "wet_chance": (dims, chance.astype(np.float32)),
    }
    return xr.Dataset(fields, {name: flowing[name] for name in ("flow", "asked", "x", "y")})


def _along(x: np.ndarray, offset: np.ndarray | float) -> np.ndarray:
    """Return points beside the river line, shape (n, 2)."""
    north, turn = _line(x)
    return np.c_[x + LEFT - np.sin(turn) * offset, north + MIDDLE + np.cos(turn) * offset]


def _strip(start: float, end: float, inner: float, outer: float, seed: int) -> Polygon:
    """Return a ragged strip along the river."""
    x = np.linspace(start, end, 60)
    ragged = 1.5 * np.sin(x / 1.7 + seed)
    near, far = _along(x, inner + ragged), _along(x[::-1], outer + ragged)
    return Polygon(np.r_[near, far]).buffer(0)


def _layers(length: float, values: np.ndarray, labels: list[str]) -> dict[str, gpd.GeoDataFrame]:
    """Return about 250 features a flow, of every kind."""
    rows: dict[str, list[dict[str, Any]]] = {layer.name: [] for layer in LAYERS}
    bends = np.arange(WAVE / 4, length - 150, WAVE / 2)
    for index, value in enumerate(values):
        base = {"flow": float(value), "flow_label": labels[index]}
        half = 22 + 1.8 * index
        whole = np.linspace(0, length, int(length / 3))
        edge = np.r_[_along(whole, half + np.sin(whole)), _along(whole[::-1], -half)]
        rows["wetted"].append(base | {"area_m2": 1.0, "geometry": Polygon(edge).buffer(0)})
        for number, middle in enumerate(bends):
            _bend(rows, base, float(middle) + 2 * index, half, number)
    for number, middle in enumerate(bends):
        strip = _strip(middle - 80, middle + 120, -35, 35, number)
        rows["runs"].append(
            {
                "run": f"Run {number}", "named_by": "reachmap", "side": "left",
                "station_m": float(middle), "extent_m": 200.0, "best_flow_m3_s": float(values[1]),
                "length_m": 200.0, "minutes": 30.0, "geometry": strip,
            }
        )  # fmt: skip
    return {name: layer_frame(name, rows[name], CRS) for name in rows}


def _table(
    layers: dict[str, gpd.GeoDataFrame], values: np.ndarray, labels: list[str]
) -> pd.DataFrame:
    """Return a table of runs by flow in which every run fishes at every flow."""
    row = {
        "in_shape": True, "why": None, "why_too": None, "kind": "inside_bend", "side": "left",
        "score": 60.0, "depth_m": 0.8, "speed_m_s": 0.7, "prime": False, "instead": "",
        "instead_score": np.nan, "instead_m": np.nan, "length_m": 200.0, "minutes": 30.0,
        "wade": "dry",
    }  # fmt: skip
    rows = [
        row | {"run": run, "code": f"B{number}", "flow": float(flow), "flow_label": label}
        for number, run in enumerate(layers["runs"]["run"])
        for flow, label in zip(values, labels, strict=True)
    ]
    return table_frame("runs_by_flow", rows)


def _bend(
    rows: dict[str, Any], base: dict[str, Any], middle: float, half: float, number: int
) -> None:
    """Lay what one bend has: two pieces of water, a seam, four of wading, two places to stand."""
    for kind, letter, shift in (("inside_bend", "B", 0), ("soft_edge", "E", 60)):
        strip = _strip(middle - 40 + shift, middle + 40 + shift, half * 0.9, half * 0.5, number)
        rows["water"].append(
            base
            | {
                "code": f"{letter}{number}", "kind": kind, "side": "left", "station_m": middle,
                "station_end_m": middle + 80, "length_m": 80.0, "width_m": 8.0,
                "depth_m": 0.8 + 0.01 * number, "speed_m_s": 0.7, "score": 60.0 + number % 30,
                "factor_depth": 0.9, "factor_speed": 0.8, "factor_even": 0.9, "factor_size": 1.0,
                "confidence": "fair", "run": f"Run {number}", "geometry": strip,
            }
        )  # fmt: skip
    seam = LineString(_along(np.linspace(middle - 30, middle + 60, 40), half * 0.3))
    told = {"code": f"S{number}", "strength": 0.1, "length_m": 90.0, "slow_side": "left"}
    rows["seams"].append(base | told | {"from_junction": False, "geometry": seam})
    for part, grade in enumerate(("easy", "careful", "no", "unknown")):
        strip = _strip(
            middle - 60, middle + 100, half * (0.9 - 0.3 * part), half * (0.6 - 0.3 * part), number
        )
        rows["wading"].append(
            base
            | {
                "grade": grade, "area_m2": 9.0, "chance": 0.0125, "out_m": 6.0, "speed_m_s": 0.5,
                "depth_m": 0.4 + 0.01 * number, "bank_left": True, "bank_right": False,
                "bank_island": False, "bank_share": 1.0, "bank_at": "middle", "no_way_share": 0.0,
                "deep_share": 0.0, "drift_lost": False, "below_kind": None, "below_note": "",
                "below_m": np.nan, "near_m": np.nan, "looked_m": 90.0, "geometry": strip,
            }
        )  # fmt: skip
    for stand in (0, 1):
        place = Point(_along(np.array([middle + 40 * stand]), half * 0.95)[0])
        rows["stations"].append(
            base
            | {
                "code": f"B{number}-{stand}", "water": f"B{number}", "side": "left",
                "depth_m": 0.4, "speed_m_s": 0.3, "room_m": 9.0, "cast": "snap-T",
                "fit_snap_t": "fits", "cast_m": 20.0, "angle_deg": 50.0, "head_max_m": 8.0,
                "tip": "10 ft of T-11", "swing_s": 30.0, "geometry": place,
            }
        )  # fmt: skip


def _markup(length: float, values: np.ndarray) -> Markup:
    """Return the drawing behind it."""
    kit = Kit(
        Angler(1.8, 0.9, Hand.RIGHT, 1.2, 27.0),
        (Rod("rod", 3.9, 7),),
        (Head("head", 7.0, "skagit"),),
        (Tip("tip", 3.0, 0.2),),
    )
    season = SeasonLimits(Season.WINTER, 0.5, 1.8, 0.3, 1.2)
    flows = tuple(float(value) for value in values)
    note = DemNote(20.0, "m", "made")
    plan = Plan("Long made reach", UnitSystem.US, 0.0015, flows[2], flows, season, kit, note)
    line = LineString(_along(np.arange(0, length, 10.0), 0.0))
    runs = (NamedRun("Run 0", _strip(100, 300, -35, 35, 0)),)
    return Markup(crs=CRS, plan=plan, rivers=(River("made", Part.MAIN, line),), banks=(), runs=runs)
