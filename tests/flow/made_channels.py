"""Made grounds for the flow tests: straight channels, islands with side channels, pits."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import xarray as xr

from reachmap.base.fields import check_fields
from reachmap.flow.sections import SectionTables
from tests.made import made_ground

TABLES = Path(__file__).parents[2] / "shared" / "tables"
FOOT = 0.3048


def prismatic(depths_or_bed, *, length=400.0, cell=2.0, slope=0.002, roughness=0.03):
    """Return a straight channel along x; its section's heights [m] run from north to south."""
    profile = np.asarray(depths_or_bed, float)
    x = np.arange(cell / 2, length, cell)
    y = ((profile.size - 1) / 2 - np.arange(profile.size)) * cell
    station = np.repeat(x[None, :], y.size, axis=0)
    bed = 50.0 + profile[:, None] - slope * station
    dims = ("y", "x")
    line = np.arange(0.0, length + 1, 1.0)
    ground = xr.Dataset(
        {
            "bed": (dims, bed),
            "cover": (dims, np.ones(bed.shape, np.uint8)),
            "roughness": (dims, np.full(bed.shape, roughness)),
            "top": (dims, bed),
            "station": (dims, station),
            "offset": (dims, np.repeat(y[:, None], x.size, axis=1)),
            "confidence": (dims, np.full(bed.shape, 0.8)),
            "line_x": (("vertex",), line),
            "line_y": (("vertex",), np.zeros(line.size)),
            "line_station": (("vertex",), line),
            "line_width": (("vertex",), np.full(line.size, y.size * cell)),
        },
        coords={"x": x, "y": y},
        attrs={"crs": "EPSG:32607", "cell": cell, "slope": slope},
    )
    return check_fields(ground, "ground")


def trapezoid(bottom, side, height=10.0):
    """Return offset and bed of a trapezoid; walls stand upright where `side` is 0."""
    half = bottom / 2
    offset = np.array([-half - side * height, -half, half, half + side * height])
    return offset, np.array([height, 0.0, 0.0, height])


def trapezoid_tables(*, bottom, side, slope, roughness, alpha, length, step, top, rows=3000):
    """Return section tables of a trapezoidal channel with its true wetted perimeter [m]."""
    station = np.linspace(0.0, length, round(length / step) + 1)
    bed = slope * (length - station)
    depth = np.linspace(0.0, top, rows)
    area = (bottom + side * depth) * depth
    perimeter = bottom + 2 * depth * np.sqrt(1 + side**2)
    carry = area * (area / perimeter) ** (2 / 3) / roughness
    width = bottom + 2 * side * depth

    def every(row):
        return np.repeat(row[None, :], station.size, axis=0)

    return SectionTables(
        station=station,
        bottom=bed,
        level=bed[:, None] + depth[None, :],
        area=every(area),
        conveyance=every(carry),
        width=every(width),
        energy=np.full((station.size, rows), alpha),
    )


def island_ground(*, sill=0.6, length=600.0, blind=False, **keywords):
    """Return a straight reach whose left side is an island with a side channel behind a sill.

    The side channel runs 24 m river left of the line from station 180 to 420, its bed 1.0 m below
    the bank tops; its upper mouth lies behind a sill `sill` [m] below the tops; `blind` shuts it.
    """
    ground = made_ground(length=length, half_width=16.0, deep=1.6, margin=40.0, **keywords)
    station, offset = ground["station"].to_numpy(), ground["offset"].to_numpy()
    slope = float(ground.attrs["slope"])
    tops = 100 - slope * station
    along = (station > 180) & (station < 420)
    behind = along & (np.abs(offset - 30) < 7)
    bed = ground["bed"].to_numpy().copy()
    bed[behind] = (tops - 1.0)[behind]
    for first, last in ((180, 194), (406, 420)):
        mouth = (station > first) & (station < last) & (offset > 8) & (offset < 37)
        bed[mouth] = np.minimum(bed, tops - 1.0)[mouth]
    shut = (station > 180) & (station < 194) & (offset > 17) & (offset < 22)
    bed[shut] = (tops + 3.0 if blind else tops - sill)[shut]
    out = ground.assign(bed=(("y", "x"), bed), top=(("y", "x"), bed))
    return check_fields(out, "ground")
