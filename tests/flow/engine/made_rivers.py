"""Made rivers of different shape: winding with a bar, narrow and steep, wide and braided."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree

from reachmap.base.fields import check_fields
from reachmap.base.words import COVER_CODES, Cover
from tests.made import CRS, ORIGIN_X, ORIGIN_Y, wavy_line


def winding(length=1000.0, cell=2.0, seed=1):
    """Return a gravel river 60 m wide with pools, deep outsides and a bar with a side channel."""
    line = _Line(length, 760.0, 50.0, slope=0.002, half=30.0, margin=40.0, cell=cell)
    s, n, half = line.station, line.offset, 30.0
    wide = np.exp(-(((s - 0.5 * length) / 110) ** 2))
    side = np.where(n > 0, half + 16 * wide, half + 2 * wide)
    across = np.abs(n) / side
    lean = -0.8 * line.bend(s - 40) * np.sign(n) * across
    deep = 2.3 - 0.35 * np.cos(4 * np.pi * s / 500)
    bed = -deep * np.clip(1 - across**2.6, 0, None) * (1 + lean)
    bar = np.exp(-(np.abs((s - 0.5 * length) / 75) ** 3 + np.abs((n - 9) / 11) ** 2.5))
    bed = np.where(across < 1, bed + 2.15 * bar, np.minimum((across - 1) * side * 0.35, 3.5))
    bed += line.noise(seed, 6.0, 0.03)
    return line.ground(bed, np.where(across < 1, 0.033, 0.07), (15.0, 60.0, 140.0))


def steep(length=400.0, cell=1.0, seed=2):
    """Return a boulder stream 10 m wide falling 25 in 1000 over steps and pools, in tight bends."""
    line = _Line(length, 120.0, 45.0, slope=0.025, half=5.0, margin=12.0, cell=cell)
    s, n = line.station, line.offset
    across = np.abs(n) / 5.0
    deep = 1.0 + 0.3 * np.sin(2 * np.pi * s / 27) + 0.25 * line.bend(s) * np.sign(n) * across
    bed = np.where(across < 1, -deep * (1 - across**3), np.minimum((across - 1) * 2.5, 3.0))
    bed += line.noise(seed, 1.2, 0.12) * (across < 1.2)
    return line.ground(bed, np.where(across < 1, 0.055, 0.08), (1.5, 5.0, 12.0))


def braided(length=1200.0, cell=2.0, seed=3):
    """Return a gravel river 180 m wide of threads that part and join round many bars."""
    line = _Line(length, 1200.0, 15.0, slope=0.004, half=90.0, margin=30.0, cell=cell)
    s, n = line.station, line.offset
    rng = np.random.default_rng(seed)
    bed = np.zeros(s.shape)
    for wavelength, size in ((310, 0.45), (170, 0.3), (95, 0.2)):
        for _ in range(3):
            k_n = 2 * np.pi * rng.uniform(1.5, 4.5) / 180
            phase = rng.uniform(0, 2 * np.pi, 2)
            bed += size * np.sin(2 * np.pi * s / wavelength + phase[0]) * np.sin(k_n * n + phase[1])
    bed = bed - 0.4
    bed = np.where(np.abs(n) < 90, bed, 1.0 + np.minimum((np.abs(n) - 90) * 0.25, 3.0))
    bed += line.noise(seed, 5.0, 0.05)
    return line.ground(bed, np.where(bed > 0.4, 0.05, 0.03), (20.0, 80.0, 250.0))


def long_river(length=1000.0, cell=2.0, seed=5):
    """Return a gentle river 40 m wide of any length: a pool, a riffle and a bar every 250 m."""
    line = _Line(length, 500.0, 35.0, slope=0.002, half=20.0, margin=16.0, cell=cell)
    s, n = line.station, line.offset
    across = np.abs(n) / 20.0
    lean = -0.7 * line.bend(s - 25) * np.sign(n) * across
    deep = 1.7 - 0.4 * np.cos(2 * np.pi * s / 250)
    bed = np.where(
        across < 1,
        -deep * np.clip(1 - across**2.6, 0, None) * (1 + lean),
        np.minimum((across - 1) * 6.0, 3.0),
    )
    along = (np.mod(s, 250) - 125) / 30
    bed += 1.1 * np.exp(-(along**4) - ((n - 6) / 5) ** 2)
    bed += line.noise(seed, 5.0, 0.03)
    return line.ground(bed, np.where(across < 1, 0.033, 0.06), (12.0, 35.0))


RIVERS = {"winding": winding, "steep": steep, "braided": braided}


class _Line:
    """A wavy line with the raster about it."""

    def __init__(self, length, wavelength, turn, *, slope, half, margin, cell):
        self.slope, self.cell, self.half = slope, cell, half
        _, _, self.line_station, angle = wavy_line(length, wavelength, turn)
        angle = angle + 0.35  # enters and leaves at an angle to the raster
        middle = 0.5 * (angle[1:] + angle[:-1])
        self.line_x = np.r_[0.0, np.cumsum(np.cos(middle))]
        self.line_y = np.r_[0.0, np.cumsum(np.sin(middle))]
        curve = np.gradient(angle)
        self._bend = curve / np.abs(curve).max()
        edge = half + margin
        self.x = np.arange(self.line_x.min() - edge, self.line_x.max() + edge, cell)
        self.y = np.arange(self.line_y.min() - edge, self.line_y.max() + edge, cell)[::-1]
        gx, gy = np.meshgrid(self.x, self.y)
        away, near = cKDTree(np.c_[self.line_x, self.line_y]).query(np.c_[gx.ravel(), gy.ravel()])
        near = near.reshape(gx.shape)
        dx, dy = gx - self.line_x[near], gy - self.line_y[near]
        along = dx * np.cos(angle[near]) + dy * np.sin(angle[near])
        across = -dx * np.sin(angle[near]) + dy * np.cos(angle[near])
        self.station = self.line_station[near] + along
        self.offset = np.where(np.sign(across) == 0, 0, across)
        self.away = away.reshape(gx.shape)
        self.far = self.away > edge

    def bend(self, station):
        """Return the curvature over its largest, positive where the line turns left."""
        return np.interp(station, self.line_station, self._bend)

    def noise(self, seed, length, size):
        """Return smooth noise of a correlation length [m] and standard deviation [m]."""
        raw = np.random.default_rng(seed).standard_normal(self.station.shape)
        smooth = gaussian_filter(raw, length / self.cell)
        return size * smooth / smooth.std()

    def ground(self, bed, roughness, flows):
        """Return the ground Dataset; `bed` is above a plane falling along the line."""
        bed = np.where(self.far, np.nan, bed + 100 - self.slope * self.station)
        dims = ("y", "x")
        cover = np.full(bed.shape, COVER_CODES[Cover.GRAVEL], np.uint8)
        ground = xr.Dataset(
            {
                "bed": (dims, bed),
                "cover": (dims, cover),
                "roughness": (dims, roughness),
                "surface": (dims, bed),
                "station": (dims, self.station),
                "offset": (dims, self.offset),
                "confidence": (dims, np.full(bed.shape, 0.8)),
                "line_x": (("vertex",), self.line_x + ORIGIN_X),
                "line_y": (("vertex",), self.line_y + ORIGIN_Y),
                "line_station": (("vertex",), self.line_station),
                "line_width": (("vertex",), np.full(self.line_station.shape, 2 * self.half)),
            },
            coords={"x": self.x + ORIGIN_X, "y": self.y + ORIGIN_Y},
            attrs={"crs": CRS, "cell": self.cell, "slope": self.slope, "flows": flows},
        )
        return check_fields(ground, "ground")
