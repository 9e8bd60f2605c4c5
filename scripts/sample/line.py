"""Centrelines of made rivers: bends of sine-generated form, one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Bend:
    """A piece between two inflections: length [m] and turn [degrees], positive to the left."""

    length: float
    turn_deg: float


@dataclass(frozen=True, slots=True)
class Line:
    """A centreline: vertices [m], station [m], direction [rad from east], curvature [1/m]."""

    x: FloatArray
    y: FloatArray
    station: FloatArray
    direction: FloatArray
    curvature: FloatArray

    @property
    def length(self) -> float:
        """Return the length [m]."""
        return float(self.station[-1])

    def place(self, station: FloatArray, offset: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return x, y of stations and offsets [m]; offset is positive to river left."""
        angle = np.interp(station, self.station, self.direction)
        beyond = station - np.clip(station, 0.0, self.length)
        x = np.interp(station, self.station, self.x) + beyond * np.cos(angle)
        y = np.interp(station, self.station, self.y) + beyond * np.sin(angle)
        return x - offset * np.sin(angle), y + offset * np.cos(angle)

    def locate(
        self, x: FloatArray, y: FloatArray, *, within: float = np.inf
    ) -> tuple[FloatArray, FloatArray]:
        """Return station and offset [m] of places, by the nearest vertex's tangent.

        NaN for places farther than `within` [m].
        """
        tree = cKDTree(np.column_stack([self.x, self.y]))
        places = np.column_stack([np.ravel(x), np.ravel(y)])
        _, found = tree.query(places, distance_upper_bound=within)
        near = np.minimum(found, self.x.size - 1)
        angle = self.direction[near]
        east, north = places[:, 0] - self.x[near], places[:, 1] - self.y[near]
        along = east * np.cos(angle) + north * np.sin(angle)
        inner = (near > 0) & (near < self.x.size - 1)
        step = self.station[1] - self.station[0]
        along = np.where(inner, np.clip(along, -step, step), along)
        offset = -east * np.sin(angle) + north * np.cos(angle)
        blank = np.where(found == self.x.size, np.nan, 0.0)
        station = self.station[near] + along + blank
        return station.reshape(np.shape(x)), (offset + blank).reshape(np.shape(x))


def bent_line(
    bends: Sequence[Bend], *, heading_deg: float, start: tuple[float, float], step: float = 0.5
) -> Line:
    """Return the line through bends whose curvature each is half a sine wave.

    Parameters
    ----------
    bends
        From the head down; a turn of 0 is a straight piece.
    heading_deg
        Direction at the head [degrees from east, anticlockwise].
    start
        Place of the head [m].
    step
        Distance of vertices [m].

    Notes
    -----
    A sine-generated curve (Langbein and Leopold 1966, USGS Professional Paper 422-H) has the
    direction omega sin(2 pi s / M), so between inflections its curvature is half a sine wave and it
    turns by 2 omega. Pieces of unlike omega and M are joined where the curvature is zero; the
    corners that its slope has there are rounded over 15 m.
    """
    length = sum(bend.length for bend in bends)
    station = np.linspace(0.0, length, round(length / step) + 1)
    curvature = np.zeros(station.size)
    begun = 0.0
    for bend in bends:
        share = (station - begun) / bend.length
        peak = np.radians(bend.turn_deg) * np.pi / (2 * bend.length)
        curvature += np.where((share >= 0) & (share < 1), peak * np.sin(np.pi * share), 0.0)
        begun += bend.length
    curvature = gaussian_filter1d(curvature, 15.0 / step, mode="nearest")
    middle = 0.5 * (curvature[1:] + curvature[:-1]) * np.diff(station)
    direction = np.radians(heading_deg) + np.r_[0.0, np.cumsum(middle)]
    between = 0.5 * (direction[1:] + direction[:-1])
    x = start[0] + np.r_[0.0, np.cumsum(np.cos(between) * np.diff(station))]
    y = start[1] + np.r_[0.0, np.cumsum(np.sin(between) * np.diff(station))]
    return Line(x, y, station, direction, curvature)
