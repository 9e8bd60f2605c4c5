"""Made reaches with known answers: a stage's input without the stages before it."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.fields import check_fields
from reachmap.base.words import COVER_CODES, Cover, Wet

CRS = "EPSG:32607"
ORIGIN_X, ORIGIN_Y = 500_000.0, 5_117_000.0


def wavy_line(length: float, wavelength: float, turn_deg: float, step: float = 1.0):
    """Return x, y, station, direction of a sine-generated curve running east."""
    station = np.arange(0.0, length + step / 2, step)
    direction = np.radians(turn_deg) * np.sin(2 * np.pi * station / wavelength)
    middle = 0.5 * (direction[1:] + direction[:-1])
    x = np.r_[0.0, np.cumsum(np.cos(middle) * step)]
    y = np.r_[0.0, np.cumsum(np.sin(middle) * step)]
    return x, y, station, direction


def made_ground(
    *,
    length: float = 600.0,
    wavelength: float = 300.0,
    turn_deg: float = 0.0,
    half_width: float = 20.0,
    deep: float = 1.5,
    slope: float = 0.002,
    roughness: float = 0.035,
    cell: float = 2.0,
    margin: float = 30.0,
    riffle: float = 0.0,
    mirror: bool = False,
) -> xr.Dataset:
    """Return a ground Dataset: a parabolic channel along a wavy line, banks rising 1 in 4.

    `deep` is the channel's depth below its bank tops at the middle; `riffle` the height of bars in
    the bed's long profile, one per `wavelength`/2; `mirror` swaps river left and right.
    """
    lx, ly, ls, lt = wavy_line(length, wavelength, turn_deg)
    if mirror:
        ly, lt = -ly, -lt
    x = np.arange(lx.min() + cell / 2, lx.max(), cell)
    y = np.arange(ly.min() - half_width - margin, ly.max() + half_width + margin, cell)[::-1]
    if mirror:
        y = -np.arange(-ly.max() - half_width - margin, -ly.min() + half_width + margin, cell)
    gx, gy = np.meshgrid(x, y)
    near = np.argmin(
        (gx.ravel()[:, None] - lx[None, ::4]) ** 2 + (gy.ravel()[:, None] - ly[None, ::4]) ** 2,
        axis=1,
    )
    near = (near * 4).reshape(gx.shape)
    along = (gx - lx[near]) * np.cos(lt[near]) + (gy - ly[near]) * np.sin(lt[near])
    offset = -(gx - lx[near]) * np.sin(lt[near]) + (gy - ly[near]) * np.cos(lt[near])
    station = ls[near] + along
    across = np.abs(offset) / half_width
    bed = np.where(
        across < 1, -deep * (1 - across**2), np.minimum((across - 1) * half_width / 4, 4)
    )
    bed = bed + riffle * np.cos(4 * np.pi * station / wavelength) * (across < 1) * (1 - across**2)
    bed = bed + 100 - slope * station
    cover = np.where(across < 1.3, COVER_CODES[Cover.GRAVEL], COVER_CODES[Cover.BRUSH])
    tall = np.where(across < 1.3, 0.0, 3.0)
    dims = ("y", "x")
    dataset = xr.Dataset(
        {
            "bed": (dims, bed),
            "cover": (dims, cover.astype(np.uint8)),
            "roughness": (dims, np.full(bed.shape, roughness)),
            "surface": (dims, bed + tall),
            "station": (dims, station),
            "offset": (dims, offset),
            "confidence": (dims, np.full(bed.shape, 0.9)),
            "line_x": (("vertex",), lx + ORIGIN_X),
            "line_y": (("vertex",), ly + ORIGIN_Y),
            "line_station": (("vertex",), ls),
            "line_width": (("vertex",), np.full(ls.shape, 2 * half_width)),
        },
        coords={"x": x + ORIGIN_X, "y": y + ORIGIN_Y},
        attrs={"crs": CRS, "cell": cell, "slope": slope},
    )
    return check_fields(dataset, "ground")


def made_flows(ground: xr.Dataset, fills: dict[float, float]) -> xr.Dataset:
    """Return a flows Dataset of uniform flow: level parallel to the slope, Manning's speed.

    `fills` gives for each discharge [m3/s] the water level above the bank tops at station 0 [m].
    """
    slope = float(ground.attrs["slope"])
    station, bed = ground["station"].to_numpy(), ground["bed"].to_numpy()
    angle = np.interp(
        station.ravel(),
        ground["line_station"].to_numpy(),
        np.unwrap(
            np.arctan2(
                np.gradient(ground["line_y"].to_numpy()), np.gradient(ground["line_x"].to_numpy())
            )
        ),
    ).reshape(station.shape)
    stacks: dict[str, list[np.ndarray]] = {
        name: [] for name in ("level", "depth", "east_speed", "north_speed", "wet")
    }
    for fill in fills.values():
        level = 100 + fill - slope * station
        depth = level - bed
        wet = depth > 0
        speed = np.where(wet, depth, 0) ** (2 / 3) * np.sqrt(slope) / ground["roughness"].to_numpy()
        stacks["level"].append(np.where(wet, level, np.nan))
        stacks["depth"].append(np.where(wet, depth, np.nan))
        stacks["east_speed"].append(np.where(wet, speed * np.cos(angle), np.nan))
        stacks["north_speed"].append(np.where(wet, speed * np.sin(angle), np.nan))
        stacks["wet"].append(np.where(wet, Wet.YES, Wet.NO).astype(np.uint8))
    flows = np.array(list(fills))
    data = {name: (("flow", "y", "x"), np.stack(arrays)) for name, arrays in stacks.items()}
    data |= {
        "inflow": (("flow",), flows),
        "outflow": (("flow",), flows),
        "imbalance": (("flow",), np.zeros(flows.shape)),
        "foot_level": (("flow",), 100 + np.array(list(fills.values())) - slope * station.max()),
    }
    asked = [f"{flow:g}m3s" for flow in flows]
    dataset = xr.Dataset(
        data,
        coords={"flow": flows, "asked": ("flow", asked), "x": ground["x"], "y": ground["y"]},
        attrs={"crs": CRS, "cell": ground.attrs["cell"]},
    )
    return check_fields(dataset, "flow")
