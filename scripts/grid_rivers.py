"""Made rivers given by formulas alone, so that any size of cell looks at the same ground."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr
from scipy.spatial import cKDTree

from reachmap.base.arrays import FloatArray
from reachmap.base.fields import check_fields
from reachmap.base.words import COVER_CODES, Cover

CRS = "EPSG:32607"
WEST, SOUTH = 500_000.0, 5_100_000.0
COARSEST_M = 4.0
"""Rasters begin on multiples of this, so that small cells lie within larger ones [m]."""
LINE_M = 0.2
"""Step of the river line [m]."""
WAVES = 60
"""Sines that make the bed uneven."""


@dataclass(frozen=True)
class MadeRiver:
    """A winding gravel river with pools, riffles, a bar out of the middle and an uneven bed.

    Parameters
    ----------
    name
        Of the river.
    width, length
        Between the banks, and of the line [m].
    slope, roughness
        Of the bed, and Manning's n of the channel.
    deep
        Depth of the bed below the bank tops in a run [m].
    uneven
        Standard deviation of the bed's unevenness [m].
    flow
        Discharge [m3/s].
    seed
        Of the unevenness.
    """

    name: str
    width: float
    length: float
    slope: float
    roughness: float
    deep: float
    uneven: float
    flow: float
    seed: int = 1

    @cached_property
    def line(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return x, y, station and direction of a sine-generated curve, off the raster's axes."""
        station = np.arange(0.0, self.length + LINE_M / 2, LINE_M)
        turn = np.radians(45.0) * np.sin(2 * np.pi * station / (11 * self.width))
        angle = turn + 0.35
        middle = 0.5 * (angle[1:] + angle[:-1])
        x = np.r_[0.0, np.cumsum(np.cos(middle) * LINE_M)]
        y = np.r_[0.0, np.cumsum(np.sin(middle) * LINE_M)]
        return x, y, station, angle

    def bed(self, s: FloatArray, n: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return the bed above the falling plane [m] at station, offset and place [m]."""
        w, half = self.width, self.width / 2
        across = np.abs(n) / half
        lean = -0.5 * np.cos(2 * np.pi * (s - w) / (11 * w)) * n / half
        deep = self.deep * (1 - 0.25 * np.cos(2 * np.pi * s / (3.75 * w)))
        channel = -deep * np.clip(1 - across**2.6, 0, None) * (1 + lean)
        bar = np.exp(-((np.abs(s / w - 3.4) / 0.6) ** 4) - ((n / w - 0.15) / 0.1) ** 2)
        bank = np.minimum((across - 1) * half * 0.5, 3.0)
        rng = np.random.default_rng(self.seed)
        rough = np.zeros(x.shape)
        for _ in range(WAVES):
            wave = w * rng.uniform(0.12, 0.6)
            way, phase = rng.uniform(0, 2 * np.pi, 2)
            along = x * np.cos(way) + y * np.sin(way)
            rough += np.sin(2 * np.pi * along / wave + phase)
        rough *= self.uneven / math.sqrt(WAVES / 2)
        shaped = np.where(across < 1, channel + 0.75 * self.deep * bar, bank)
        return np.asarray(shaped + rough)

    def ground(self, cell: float) -> xr.Dataset:
        """Return the ground Dataset on cells of a size [m]: the bed at the cells' centres."""
        lx, ly, ls, angle = self.line
        edge = 0.9 * self.width
        x, y = (
            np.arange(
                math.floor((line.min() - edge) / COARSEST_M) * COARSEST_M + cell / 2,
                math.ceil((line.max() + edge) / COARSEST_M) * COARSEST_M,
                cell,
            )
            for line in (lx, ly)
        )
        y = y[::-1]
        gx, gy = np.meshgrid(x, y)
        away, near = cKDTree(np.c_[lx, ly]).query(np.c_[gx.ravel(), gy.ravel()])
        away, near = away.reshape(gx.shape), near.reshape(gx.shape)
        dx, dy = gx - lx[near], gy - ly[near]
        s = ls[near] + dx * np.cos(angle[near]) + dy * np.sin(angle[near])
        n = -dx * np.sin(angle[near]) + dy * np.cos(angle[near])
        bed = self.bed(s, n, gx, gy) + 100 - self.slope * s
        bed[away > edge] = np.nan
        dims = ("y", "x")
        rough = np.where(np.abs(n) < self.width / 2, self.roughness, 2 * self.roughness)
        every = round(1.0 / LINE_M)
        line = {"x": lx[::every] + WEST, "y": ly[::every] + SOUTH, "station": ls[::every]}
        line["width"] = np.full(line["station"].shape, self.width)
        rasters = {
            "bed": bed,
            "surface": bed,
            "roughness": rough,
            "station": s,
            "offset": n,
            "confidence": np.ones(bed.shape),
            "cover": np.full(bed.shape, COVER_CODES[Cover.GRAVEL], np.uint8),
        }
        made = xr.Dataset(
            {name: (dims, raster) for name, raster in rasters.items()}
            | {f"line_{name}": (("vertex",), values) for name, values in line.items()},
            coords={"x": x + WEST, "y": y + SOUTH},
            attrs={"crs": CRS, "cell": cell, "slope": self.slope},
        )
        return check_fields(made, "ground")


RIVERS = (
    MadeRiver("40 m wide", 40.0, 300.0, 0.002, 0.033, 1.6, 0.06, 25.0),
    MadeRiver("12 m wide", 12.0, 90.0, 0.005, 0.040, 1.0, 0.04, 4.5),
)
"""Reaches seven and a half widths long, filled to about three quarters of the bank."""
