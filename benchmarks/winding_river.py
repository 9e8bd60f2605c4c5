"""A made river that winds across its raster from corner to corner: most of the box is not known.

As on a real reach the box grows with the square of the length, the river and the ground known
beside it with the length.
"""

from __future__ import annotations

import numpy as np
import xarray as xr
from shapely import Point

from reachmap.base.centreline import Centreline
from reachmap.base.fields import check_fields
from reachmap.base.words import COVER_CODES, AccessKind, Cover, HazardKind, Wet
from reachmap.markup.model import Access, Hazard, Markup
from tests.angler.hand import hand_markup
from tests.made import CRS, ORIGIN_X, ORIGIN_Y, made_flows, wavy_line

HALF_WIDTH, DEEP, WAVE, TURN_DEG, SLOPE, CELL = 30.0, 2.0, 500.0, 60.0, 0.0015, 2.0
"""Half the width [m], depth below the banks [m], length of a bend and back [m], its turn, fall."""

KNOWN = 120.0
"""Ground is known as far from the line [m]."""

EVERY = 500.0
"""River between two ledges, and between two places to come in [m]."""


def winding_river(length: float) -> tuple[xr.Dataset, xr.Dataset, Markup]:
    """Return ground, one flow and the drawing of a river of `length` [m], 60 m wide, with pools."""
    ground = _ground(length)
    flow = made_flows(ground, {60.0: -0.9})
    known = np.isfinite(ground["bed"].to_numpy())
    flow["wet"] = flow["wet"].where(known, np.uint8(Wet.UNKNOWN)).astype(np.uint8)
    line = Centreline.of(ground)
    stations = np.arange(EVERY / 2, length, EVERY)
    ledges = np.column_stack(line.from_station_offset(stations, np.full(stations.shape, 12.0)))
    ways = np.column_stack(line.from_station_offset(stations, np.full(stations.shape, -50.0)))
    markup = hand_markup(
        ground,
        hazards=[Hazard(Point(at).buffer(4.0), HazardKind.LEDGE, "") for at in ledges],
        access=[Access(Point(at), AccessKind.PATH, "") for at in ways],
    )
    return ground, flow, markup


def _ground(length: float) -> xr.Dataset:
    """Return the ground stage's Dataset."""
    x, y, station, _ = wavy_line(length, WAVE, TURN_DEG, step=2.0)
    turn = np.radians(40.0)  # so that the box grows either way
    x, y = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
    line = Centreline(x, y, station, np.full(x.shape, 2 * HALF_WIDTH))
    gx = np.arange(x.min() - KNOWN, x.max() + KNOWN, CELL)
    gy = np.arange(y.min() - KNOWN, y.max() + KNOWN, CELL)[::-1]
    along, offset = (
        values.reshape(gy.size, gx.size)
        for values in line.to_station_offset(*(one.ravel() for one in np.meshgrid(gx, gy)))
    )
    known = (np.abs(offset) < KNOWN) & (along > 0) & (along < length)
    across = np.abs(offset) / HALF_WIDTH
    pools = 0.5 * np.cos(4 * np.pi * along / WAVE) + 0.3 * np.cos(2 * np.pi * along / 730.0)
    channel = -(DEEP + pools + 0.01 * offset) * (1 - across**2)
    bank = np.minimum((across - 1) * HALF_WIDTH / 4, 4)
    bed = np.where(across < 1, channel, bank) + 100 - SLOPE * along
    high = across > 1.3
    cover = np.where(high, COVER_CODES[Cover.BRUSH], COVER_CODES[Cover.GRAVEL])
    fields = {
        "bed": bed,
        "roughness": np.full(bed.shape, 0.035),
        "surface": bed + np.where(high, 3.0, 0.0),
        "station": along,
        "offset": offset,
        "confidence": np.full(bed.shape, 0.9),
    }
    dims = ("y", "x")
    data = {name: (dims, np.where(known, values, np.nan)) for name, values in fields.items()}
    vertex = {
        "line_x": x + ORIGIN_X,
        "line_y": y + ORIGIN_Y,
        "line_station": station,
        "line_width": line.widths,
    }
    dataset = xr.Dataset(
        data
        | {"cover": (dims, cover.astype(np.uint8))}
        | {name: (("vertex",), values) for name, values in vertex.items()},
        coords={"x": gx + ORIGIN_X, "y": gy + ORIGIN_Y},
        attrs={"crs": CRS, "cell": CELL, "slope": SLOPE},
    )
    return check_fields(dataset, "ground")
