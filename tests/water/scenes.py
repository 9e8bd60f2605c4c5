"""Made fields for the tests of this stage: what a rule must find is known beforehand."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.fields import check_fields
from reachmap.base.words import Wet
from reachmap.markup.model import SeasonLimits
from reachmap.water.candidates import soft_water
from reachmap.water.field import WaterField, field_of
from reachmap.water.settings import SuitSettings
from reachmap.water.soft_odds import soft_odds
from tests.made import CRS, made_flows, made_ground


def as_field(ground: xr.Dataset, flow: xr.Dataset) -> WaterField:
    """Return a flow as the rules see it."""
    return field_of(ground, flow, island_low_m2=60.0, pool_low_m2=400.0)


def suiting(field: WaterField, limits: SeasonLimits, *, slow_share: float = 1.0) -> np.ndarray:
    """Return the cells that suit more likely than not, shape (y, x)."""
    suits = SuitSettings()
    return soft_water(soft_odds(field, limits, suits, slow_share=slow_share), suits.line)


def directions(ground: xr.Dataset) -> np.ndarray:
    """Return the direction of the line beside each cell [rad]."""
    turn = np.unwrap(
        np.arctan2(np.gradient(ground["line_y"].values), np.gradient(ground["line_x"].values))
    )
    station = ground["station"].values
    return np.interp(station.ravel(), ground["line_station"].values, turn).reshape(station.shape)


def with_speed(ground: xr.Dataset, flow: xr.Dataset, speed: np.ndarray) -> xr.Dataset:
    """Return a flow whose speed runs along the line with the given size [m/s]."""
    angle, wet = directions(ground), flow["wet"].values[0] == Wet.YES
    out = flow.copy(deep=True)
    out["east_speed"][0] = np.where(wet, speed * np.cos(angle), np.nan)
    out["north_speed"][0] = np.where(wet, speed * np.sin(angle), np.nan)
    return out


def mixing_layer(
    *, thickness: float, middle: float = 3.7, mean: float = 0.9, difference: float = 0.6, **plan
) -> tuple[xr.Dataset, xr.Dataset]:
    """Return ground and flow with U(n) = mean + difference/2 tanh(2 (n - middle)/thickness)."""
    ground = made_ground(
        **{"length": 600.0, "wavelength": 600.0, "half_width": 30.0, "deep": 1.5} | plan
    )
    flow = made_flows(ground, {60.0: 0.5})
    offset = ground["offset"].values
    flow["depth"][0] = np.where(flow["wet"].values[0] == Wet.YES, 1.2, np.nan)
    speed = mean + difference / 2 * np.tanh(2 * (offset - middle) / thickness)
    return ground, with_speed(ground, flow, speed)


def steered(ground: xr.Dataset, flows: xr.Dataset) -> xr.Dataset:
    """Return flows whose speed carries the discharge through every section."""
    out = flows.copy(deep=True)
    angle = directions(ground)
    bins = np.floor(ground["station"].values / 4.0).astype(int)
    bins -= bins.min()
    cell = float(ground.attrs["cell"])
    for k in range(flows.sizes["flow"]):
        depth = np.nan_to_num(flows["depth"].values[k])
        carried = np.bincount(bins.ravel(), (depth ** (5 / 3)).ravel() * cell**2 / 4.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            scale = float(flows["flow"][k]) / carried
        speed = depth ** (2 / 3) * scale[bins]
        wet = flows["wet"].values[k] == Wet.YES
        out["east_speed"][k] = np.where(wet, speed * np.cos(angle), np.nan)
        out["north_speed"][k] = np.where(wet, speed * np.sin(angle), np.nan)
    return out


def from_mask(wet: np.ndarray, *, cell: float = 2.0, speed: float = 0.8, depth: float = 1.0):
    """Return ground and flow of a level plain river running east over a mask; rows run south."""
    rows, cols = wet.shape
    x, y = 500_000.0 + np.arange(cols) * cell, 5_117_000.0 - np.arange(rows) * cell
    station = np.broadcast_to(np.arange(cols) * cell, wet.shape).astype(float)
    offset = np.broadcast_to((y - y.mean())[:, None], wet.shape).astype(float)
    level = 100.0 - 0.002 * station
    dims = ("y", "x")
    full = {"roughness": 0.035, "confidence": 0.8}
    line = np.arange(0.0, cols * cell, cell)
    ground = xr.Dataset(
        {
            "bed": (dims, np.where(wet, level - depth, level + 1)),
            "cover": (dims, np.ones(wet.shape, np.uint8)),
            "surface": (dims, np.where(wet, level - depth, level + 1)),
            "station": (dims, station),
            "offset": (dims, offset),
            **{name: (dims, np.full(wet.shape, value)) for name, value in full.items()},
            "line_x": (("vertex",), 500_000.0 + line),
            "line_y": (("vertex",), np.full(line.shape, y.mean())),
            "line_station": (("vertex",), line),
            "line_width": (("vertex",), np.full(line.shape, 40.0)),
        },
        coords={"x": x, "y": y},
        attrs={"crs": CRS, "cell": cell},
    )
    stack = ("flow", "y", "x")
    known = {"level": level, "depth": depth, "east_speed": speed, "north_speed": 0.0}
    one = np.array([50.0])
    flow = xr.Dataset(
        {
            **{n: (stack, np.where(wet, v, np.nan)[None]) for n, v in known.items()},
            "wet": (stack, np.where(wet, Wet.YES, Wet.NO).astype(np.uint8)[None]),
            **dict.fromkeys(("inflow", "outflow"), (("flow",), one)),
            "imbalance": (("flow",), np.zeros(1)),
            "foot_level": (("flow",), np.array([99.0])),
        },
        coords={"flow": one, "asked": ("flow", ["50m3s"]), "x": x, "y": y},
        attrs={"crs": CRS, "cell": cell},
    )
    return check_fields(ground, "ground"), check_fields(flow, "flow")
