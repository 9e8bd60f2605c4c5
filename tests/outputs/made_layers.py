"""Layers of the register laid by hand along a made river; nothing in them was computed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr
from affine import Affine
from rasterio.features import shapes
from shapely import LineString, Point, Polygon, unary_union
from shapely.geometry import shape

from reachmap.base.schema import LAYERS, layer_frame
from reachmap.base.schema_angler import CASTS
from reachmap.base.words import Cast, Wet
from tests.made import CRS


class Along:
    """Where things are along the made river: station and offset to east and north."""

    def __init__(self, ground: xr.Dataset) -> None:
        self.station = ground["line_station"].to_numpy()
        self.x, self.y = ground["line_x"].to_numpy(), ground["line_y"].to_numpy()
        self.turn = np.arctan2(np.gradient(self.y), np.gradient(self.x))
        self.length = float(self.station[-1])

    def at(self, station: Any, offset: Any) -> np.ndarray:
        """Return points, shape (n, 2) [m]."""
        s = np.asarray(station, dtype=float)
        x, y, turn = (np.interp(s, self.station, a) for a in (self.x, self.y, self.turn))
        return np.c_[x - np.sin(turn) * offset, y + np.cos(turn) * offset]

    def line(self, start: float, end: float, offset: float) -> LineString:
        """Return a line along the river."""
        return LineString(self.at(np.linspace(start, end, 40), offset))

    def strip(self, start: float, end: float, inner: float, outer: float) -> Polygon:
        """Return a lens between two offsets, pointed at both ends."""
        s = np.linspace(start, end, 40)
        swell = np.clip(2.2 * np.sin(np.linspace(0, np.pi, s.size)), 0, 1) ** 0.7
        middle = (inner + outer) / 2
        near = self.at(s, middle + (inner - middle) * swell)
        far = self.at(s[::-1], (middle + (outer - middle) * swell)[::-1])
        return Polygon(np.r_[near, far]).buffer(0)


def bends(along: Along, wavelength: float) -> list[tuple[int, float, int]]:
    """Return number, station [m] and side (+1 left) of each bend's inside."""
    middles = np.arange(wavelength / 2, along.length - wavelength / 8, wavelength / 2)
    return [(i, float(s), -1 if i % 2 == 0 else 1) for i, s in enumerate(middles)]


def _outlines(mask: np.ndarray, ground: xr.Dataset) -> list[Polygon]:
    """Return the outlines of a mask, holes as rings."""
    cell = float(ground.attrs["cell"])
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    place = Affine(cell, 0, x[0] - cell / 2, 0, -cell, y[0] + cell / 2)
    found = shapes(mask.astype(np.uint8), mask=mask, transform=place)
    return [shape(geometry).simplify(cell * 0.7) for geometry, _ in found]


def made_layers(
    ground: xr.Dataset, flows: xr.Dataset, along: Along, names: Sequence[str], wavelength: float
) -> dict[str, Any]:
    """Return every layer of the register."""
    rows: dict[str, list[dict[str, Any]]] = {layer.name: [] for layer in LAYERS}
    for index, flow in enumerate(flows["flow"].to_numpy()):
        base = {"flow": float(flow), "flow_label": str(flows["asked"].to_numpy()[index])}
        here = flows.isel(flow=index)
        _lay_ground_rows(rows, base, here, ground, along)
        for number, middle, side in bends(along, wavelength):
            _lay_bend_rows(
                rows, base, here, ground, along, (number, middle, side, names[number], index)
            )
    _lay_runs(rows, along, names, wavelength, flows)
    return {name: layer_frame(name, rows[name], CRS) for name in rows}


def _lay_ground_rows(
    rows: dict[str, Any], base: dict[str, Any], here: xr.Dataset, ground: xr.Dataset, along: Along
) -> None:
    """Lay wetted area, edges, wading and the lane of one flow."""
    wet = here["wet"].to_numpy()
    for outline in _outlines(wet != Wet.NO, ground):
        if outline.area > 60:
            rows["wetted"].append(base | {"area_m2": outline.area, "geometry": outline})
    depth = here["depth"].to_numpy()
    speed = np.hypot(here["east_speed"].to_numpy(), here["north_speed"].to_numpy())
    half = float(np.quantile(np.abs(ground["offset"].to_numpy()[wet == Wet.YES]), 0.97))
    for name, side in (("edge_left", 1), ("edge_right", -1)):
        line = along.line(2, along.length - 2, side * half)
        rows[name].append(base | {"length_m": line.length, "geometry": line})
    hard = np.nan_to_num(depth, nan=0) * np.nan_to_num(speed, nan=0)
    grades = {
        "easy": (wet == Wet.YES) & (depth < 0.6) & (hard < 0.35),
        "careful": (wet == Wet.YES) & (depth < 1.0) & (hard < 0.8),
        "no": wet == Wet.YES,
        "unknown": wet == Wet.UNKNOWN,
    }
    left = np.ones(wet.shape, dtype=bool)
    zone = {"out_m": 6.0, "depth_m": 0.6, "speed_m_s": 0.5, "no_way_share": 0.0, "deep_share": 0.0}
    zone |= {"bank_left": True, "bank_right": False, "bank_island": False, "bank_share": 1.0}
    zone |= {"bank_at": "middle", "drift_lost": False, "below_kind": None, "below_note": ""}
    zone |= {"below_m": np.nan, "near_m": np.nan, "looked_m": 91.44}
    chances = {"easy": 0.002, "careful": 0.0125}
    for grade, mask in grades.items():
        for outline in _outlines(mask & left, ground):
            if outline.area > 30:
                row = {"grade": grade, "area_m2": outline.area, "chance": chances.get(grade)}
                rows["wading"].append(base | zone | row | {"geometry": outline})
        left &= ~mask
    lane = LineString(
        along.at(s := np.linspace(6, along.length - 6, 160), 9 * np.cos(2 * np.pi * s / 420))
    )
    rows["lanes"].append(base | {"length_m": lane.length, "effort": 1.9, "geometry": lane})


def _median(here: xr.Dataset, ground: xr.Dataset, span: tuple[float, float, float, float]):
    """Return median depth [m] and speed [m/s] between stations and offsets; NaN where dry."""
    s, o = ground["station"].to_numpy(), ground["offset"].to_numpy()
    inside = (s > span[0]) & (s < span[1]) & (o > min(span[2:])) & (o < max(span[2:]))
    depth = here["depth"].to_numpy()[inside]
    speed = np.hypot(here["east_speed"].to_numpy(), here["north_speed"].to_numpy())[inside]
    if not np.isfinite(depth).any():
        return np.nan, np.nan
    return float(np.nanmedian(depth)), float(np.nanmedian(speed))


def _lay_bend_rows(
    rows: dict[str, Any],
    base: dict[str, Any],
    here: xr.Dataset,
    ground: xr.Dataset,
    along: Along,
    bend: tuple[int, float, int, str, int],
) -> None:
    """Lay what one bend has at one flow: water, seam, tailout, a place to stand."""
    number, middle, side, run, index = bend
    word = "left" if side > 0 else "right"
    half = 15 + 4.5 * index
    start, end = middle - 46 + 5 * index, middle + 52 + 5 * index
    plan = [("inside_bend", f"B{number + 1}", (start, end, side * half * 0.96, side * half * 0.42))]
    if index < 3:
        plan.append(
            (
                "seam",
                f"S{number + 1}",
                (start + 30, end + 26, side * half * 0.40, side * half * 0.12),
            )
        )
    if number % 2 == 0 and index < 3:
        plan.append(("tailout", f"T{number + 1}", (end + 28, end + 62, half * 0.8, -half * 0.8)))
    if index >= 2:
        plan.append(
            (
                "soft_edge",
                f"E{number + 1}",
                (start + 8, end + 20, -side * half * 0.99, -side * half * 0.72),
            )
        )
    for kind, code, span in plan:
        depth, speed = _median(here, ground, span)
        if not np.isfinite(depth):
            continue
        suits_depth = float(np.exp(-(((depth - 0.9) / 0.6) ** 2)))
        even = (1.0, 0.5, 0.9, 0.25)[(number + index) % 4]
        suits_speed = float(np.exp(-(((speed - 0.75) / 0.5) ** 2)))
        rows["water"].append(
            base
            | {
                "code": code,
                "kind": kind,
                "side": word if kind != "soft_edge" else ("right" if side > 0 else "left"),
                "station_m": span[0],
                "station_end_m": span[1],
                "length_m": span[1] - span[0],
                "width_m": abs(span[2] - span[3]) * 0.8,
                "depth_m": depth,
                "speed_m_s": speed,
                "score": 100 * suits_depth * suits_speed * even,
                "factor_depth": suits_depth,
                "factor_speed": suits_speed,
                "factor_even": even,
                "factor_size": 1.0,
                "confidence": ("good", "fair", "low")[number % 3],
                "run": run,
                "geometry": along.strip(*span),
            }
        )
    if index < 3:
        seam = along.line(start + 30, end + 26, side * half * 0.4)
        row = {"code": f"S{number + 1}", "strength": 0.12, "length_m": seam.length}
        row |= {"slow_side": word, "from_junction": number == 1, "geometry": seam}
        rows["seams"].append(base | row)
        if number % 2 == 0:
            tail = along.line(end + 28, end + 62, 0)
            row = {"code": f"T{number + 1}", "lip_station_m": end + 62, "length_m": tail.length}
            row |= {"lip_depth_m": 0.6, "lip_speed_m_s": 1.1, "residual_m": 0.5, "geometry": tail}
            rows["tailouts"].append(base | row)
    _lay_structure(rows, base, along, (number, middle, side, index))
    _lay_left_over(rows, base, along, (number, middle, side, index))
    for count, station in enumerate((middle - 18, middle + 22), start=1):
        stand = along.at([station], side * half * 0.86)[0]
        tight = count == 2 and number % 2 == 1
        able = [Cast.PERRY_POKE] if tight else [Cast.DOUBLE_SPEY, Cast.SNAP_T, Cast.PERRY_POKE]
        fits = {CASTS[cast]: "tight" if tight else "fits" for cast in able}
        rows["stations"].append(
            base
            | {
                "code": f"B{number + 1}-{count}",
                "water": f"B{number + 1}",
                "side": word,
                "depth_m": 0.45,
                "speed_m_s": 0.4,
                "room_m": np.nan if number == 2 else (4.2 if tight else 13.5),
                **(dict.fromkeys(CASTS.values(), "no") | fits),
                "cast": "perry poke" if tight else "double spey",
                "rod": "thirteen foot seven",
                "loop_side": "upstream",
                "natural_hand": True,
                "swing_end": "hangs",
                "head": "24 ft head",
                "cast_m": 19.5,
                "angle_deg": 55.0,
                "head_max_m": np.nan if number == 2 else (5.5 if tight else 9.0),
                "tip": "10 ft of T-11",
                "swing_s": 31.0,
                "access": "foot",
                "geometry": Point(stand),
            }
        )


def _lay_left_over(
    rows: dict[str, Any],
    base: dict[str, Any],
    along: Along,
    bend: tuple[int, float, int, int],
) -> None:
    """Lay a scrap of soft edge across from each bend, at the lower flows."""
    number, middle, side, index = bend
    if index > 1:
        return
    place = along.at([middle], -side * 9.0)[0]
    rows["left_over"].append(
        base
        | {
            "kind": "soft_edge" if number % 2 else "even_run",
            "why": "small" if index else "unknown",
            "area_m2": 80.0,
            "geometry": Point(place).buffer(5.0),
        }
    )


def _lay_structure(
    rows: dict[str, Any],
    base: dict[str, Any],
    along: Along,
    bend: tuple[int, float, int, int],
) -> None:
    """Lay a hollow in a bend, of another kind in each, that holds no fish at the highest flow."""
    number, middle, side, index = bend
    kinds = ("bucket", "slot", "ledge_pool", "drop_off", "boulder_lee", "eddy_line", "rock_garden")
    lie = along.at([middle + 6], -side * 4.0)[0]
    rows["structure"].append(
        base
        | {
            "code": f"H{number + 1}",
            "kind": kinds[number % len(kinds)],
            "side": "right" if side > 0 else "left",
            "station_m": middle - 8.0,
            "station_end_m": middle + 8.0,
            "length_m": 16.0,
            "width_m": 9.0,
            "depth_m": 1.1 + 0.3 * index,
            "relief_m": np.nan if number % len(kinds) == 5 else 0.45,
            "odds": 0.3 - 0.06 * index,
            "holds": index < 3,
            "lie_x_m": lie[0],
            "lie_y_m": lie[1],
            "lie_out_m": 14.0,
            "lie_part": "lower",
            "lie_depth_m": 1.2 + 0.3 * index,
            "near_bed_speed_m_s": 0.2 + 0.1 * index,
            "lie_odds": 0.6 - 0.15 * index,
            "swing_out_m": 12.0 if index else np.nan,
            "swing_depth_m": 0.9 if index else np.nan,
            "swing_speed_m_s": 0.6 if index else np.nan,
            "support": ("dem", "soundings", "rocks", "mark")[number % 4],
            "confidence": ("good", "fair", "low")[number % 3],
            "geometry": along.strip(middle - 8, middle + 8, -side * 1.0, -side * 9.0),
        }
    )


def _lay_runs(
    rows: dict[str, Any], along: Along, names: Sequence[str], wavelength: float, flows: xr.Dataset
) -> None:
    """Lay the runs, from the water they hold."""
    labels = [str(label) for label in flows["asked"].to_numpy()]
    values = flows["flow"].to_numpy()
    for number, middle, side in bends(along, wavelength):
        scores = dict.fromkeys(labels, 0.0)
        for row in rows["water"]:
            if row["run"] == names[number]:
                scores[row["flow_label"]] = max(scores[row["flow_label"]], row["score"])
        shape_ = unary_union([r["geometry"] for r in rows["water"] if r["run"] == names[number]])
        outline = shape_.convex_hull.intersection(along.strip(middle - 85, middle + 130, -34, 34))
        best = max(labels, key=lambda label: scores[label])
        rows["runs"].append(
            {
                "run": names[number],
                "named_by": "angler" if number % 2 == 0 else "reachmap",
                "side": "left" if side > 0 else "right",
                "station_m": middle - 60,
                "extent_m": 150.0,
                "best_flow_m3_s": float(values[labels.index(best)]),
                "length_m": 150.0,
                "minutes": 35.0,
                "places": 2,
                "geometry": outline if isinstance(outline, Polygon) else outline.convex_hull,
            }
        )
