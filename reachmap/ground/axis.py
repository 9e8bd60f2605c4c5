"""The river's centreline: made from a rough drawn line, and the (station, offset) of any place."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree
from shapely import LineString

from reachmap.base.arrays import FloatArray
from reachmap.ground.profiles import eased

MANY = 50_000
"""Places above which looking them up is worth starting threads."""


@dataclass(frozen=True, slots=True)
class Axis:
    """A line running downstream with its stations.

    Parameters
    ----------
    x, y
        Vertices [m], evenly spaced to within a per cent, at least two.
    station
        Metres downstream along the line, rising from 0.
    direction
        Downstream at each vertex [rad], counted from east, unwrapped.
    """

    x: FloatArray
    y: FloatArray
    station: FloatArray
    direction: FloatArray
    _tree: cKDTree = field(repr=False, compare=False)

    @classmethod
    def through(cls, x: FloatArray, y: FloatArray, step: float) -> Axis:
        """Return the axis through points in order, resampled at about `step` [m]."""
        chord = np.hypot(np.diff(x), np.diff(y))
        keep = np.r_[True, chord > 0]
        x, y = x[keep], y[keep]
        along = np.r_[0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y)))]
        if along[-1] <= 0:
            msg = "an axis needs two places that differ"
            raise ValueError(msg)
        count = max(round(float(along[-1]) / step), 1) + 1
        at = np.linspace(0.0, along[-1], count)
        nx, ny = np.interp(at, along, x), np.interp(at, along, y)
        station = np.r_[0.0, np.cumsum(np.hypot(np.diff(nx), np.diff(ny)))]
        direction = np.unwrap(np.arctan2(np.gradient(ny), np.gradient(nx)))
        return cls(nx, ny, station, direction, cKDTree(np.column_stack([nx, ny])))

    @property
    def length(self) -> float:
        """Return the length [m]."""
        return float(self.station[-1])

    @property
    def step(self) -> float:
        """Return the mean spacing of the vertices [m]."""
        return self.length / (len(self.station) - 1)

    @property
    def curvature(self) -> FloatArray:
        """Return the curvature at each vertex [1/m], positive where the river turns left.

        Second-order differences of (x' y'' - y' x'') / (x'^2 + y'^2)^(3/2); at the two ends that
        of the neighbour.
        """
        dx, dy = (np.gradient(axis, self.station) for axis in (self.x, self.y))
        ddx, ddy = (np.gradient(axis, self.station) for axis in (dx, dy))
        curve = (dx * ddy - dy * ddx) / (dx**2 + dy**2) ** 1.5
        if len(curve) > 5:
            curve[:2], curve[-2:] = curve[2], curve[-3]
        return np.asarray(curve)

    def line(self) -> LineString:
        """Return the axis as a geometry."""
        return LineString(np.column_stack([self.x, self.y]))

    def place(self, station: FloatArray, offset: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return x, y [m] of places given by station and offset (positive to river left).

        Beyond the ends the line runs on straight. Holds for offsets inside the radius of the bend.
        """
        beyond = station - np.clip(station, 0.0, self.length)
        angle = np.interp(station, self.station, self.direction)
        x = np.interp(station, self.station, self.x) + beyond * np.cos(angle)
        y = np.interp(station, self.station, self.y) + beyond * np.sin(angle)
        return x - offset * np.sin(angle), y + offset * np.cos(angle)

    def locate(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return station and offset [m] of places: those of the nearest point of the line.

        The nearest point is always one and the same, so that places where the normals of a tight
        bend cross are still given one station. Beyond the ends the line runs on straight.

        Parameters
        ----------
        x, y
            Places [m], one-dimensional.
        """
        threads = -1 if x.size > MANY else 1
        _, near = self._tree.query(np.column_stack([x, y]), workers=threads)
        last = len(self.x) - 1
        before = self._onto(np.maximum(near - 1, 0), x, y)
        after = self._onto(np.minimum(near, last - 1), x, y)
        closer = before[1] < after[1]
        return self._refined(np.where(closer, before[0], after[0]), x, y)

    def _refined(
        self, station: FloatArray, x: FloatArray, y: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return station, whose normal passes through each place near a first guess, and offset.

        Newton's steps on (p - c(s)) . t(s) = 0 with the direction t linear between vertices, so
        that stations fan out evenly round the outside of a bend. The step is held to one vertex:
        beyond the centre of a tight bend the guess, the nearest point of the line, stands.
        """
        curve = np.gradient(self.direction, self.station)
        first = station
        for _ in range(3):
            angle = np.interp(station, self.station, self.direction)
            cx, cy = self.place(station, np.zeros(station.shape))
            along = (x - cx) * np.cos(angle) + (y - cy) * np.sin(angle)
            across = -(x - cx) * np.sin(angle) + (y - cy) * np.cos(angle)
            squeeze = 1 - across * np.interp(station, self.station, curve)
            step = along / np.where(squeeze > 0.05, squeeze, np.inf)
            station = np.clip(station + step, first - self.step, first + self.step)
        angle = np.interp(station, self.station, self.direction)
        cx, cy = self.place(station, np.zeros(station.shape))
        across = -(x - cx) * np.sin(angle) + (y - cy) * np.cos(angle)
        return station, across

    def _onto(
        self, segment: np.ndarray, x: FloatArray, y: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return station of the nearest point of a segment each, and the squared distance to it."""
        ax, ay = self.x[segment], self.y[segment]
        bx, by = self.x[segment + 1] - ax, self.y[segment + 1] - ay
        size = np.hypot(bx, by)
        share = ((x - ax) * bx + (y - ay) * by) / size**2
        low = np.where(segment == 0, -np.inf, 0.0)
        high = np.where(segment == len(self.x) - 2, np.inf, 1.0)
        share = np.clip(share, low, high)
        far = (x - ax - share * bx) ** 2 + (y - ay - share * by) ** 2
        return self.station[segment] + share * size, far


def smoothed(axis: Axis, length: float) -> Axis:
    """Return the axis smoothed by a Gaussian of standard length `length` [m]; its ends stay."""
    sigma = length / axis.step
    x, y = eased(axis.x, sigma), eased(axis.y, sigma)
    return Axis.through(x, y, axis.step)


def drawn_axis(line: LineString, step: float) -> Axis:
    """Return the drawn line as an axis with vertices about every `step` [m]."""
    points = np.asarray(line.coords, dtype=np.float64)
    return Axis.through(points[:, 0], points[:, 1], step)


def moved_sideways(axis: Axis, shift: FloatArray, smooth_m: float) -> Axis:
    """Return the axis with each vertex moved by `shift` [m] to river left, smoothed along."""
    calm = gaussian_filter1d(shift, smooth_m / axis.step, mode="nearest")
    x, y = axis.place(axis.station, calm)
    return Axis.through(x, y, axis.step)
