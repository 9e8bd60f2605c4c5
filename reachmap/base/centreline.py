"""The river's centreline: station, offset, direction, curvature and width of any place."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr
from scipy.spatial import cKDTree
from shapely import LineString, get_coordinates

from reachmap.base.arrays import FloatArray, IntArray

MANY = 50_000
"""Places above which looking them up is worth starting threads."""


@dataclass(frozen=True, eq=False)
class Centreline:
    """A line running downstream with its stations.

    Parameters
    ----------
    x, y
        Vertices [m], evenly spaced to within a per cent, at least two.
    station
        Metres downstream along the line, rising.
    widths
        Width of the river at each vertex [m]; NaN where the line was made without.
    """

    x: FloatArray
    y: FloatArray
    station: FloatArray
    widths: FloatArray

    @classmethod
    def through(cls, x: FloatArray, y: FloatArray, step: float) -> Centreline:
        """Return the line through points in order, resampled at about `step` [m].

        Raises
        ------
        ValueError
            If no two points differ.
        """
        keep = np.r_[True, np.hypot(np.diff(x), np.diff(y)) > 0]
        x, y = x[keep], y[keep]
        along = np.r_[0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y)))]
        if along[-1] <= 0:
            msg = "a centreline needs two places that differ"
            raise ValueError(msg)
        at = np.linspace(0.0, along[-1], max(round(float(along[-1]) / step), 1) + 1)
        nx, ny = np.interp(at, along, x), np.interp(at, along, y)
        station = np.r_[0.0, np.cumsum(np.hypot(np.diff(nx), np.diff(ny)))]
        return cls(nx, ny, station, np.full(nx.shape, np.nan))

    @classmethod
    def along(cls, line: LineString, step: float) -> Centreline:
        """Return a drawn line with vertices about every `step` [m]."""
        x, y = get_coordinates(line).T
        return cls.through(x, y, step)

    @classmethod
    def of(cls, ground: xr.Dataset) -> Centreline:
        """Return the centreline in a Dataset of the ground stage.

        Where no width is known it is the median one.
        """
        x, y, station, width = (
            ground[name].to_numpy().astype(np.float64)
            for name in ("line_x", "line_y", "line_station", "line_width")
        )
        if not np.isfinite(width).all():
            width = np.where(np.isfinite(width), width, np.nanmedian(width))
        return cls(x, y, station, width)

    @property
    def head(self) -> float:
        """Return the station of the upper end [m]."""
        return float(self.station[0])

    @property
    def foot(self) -> float:
        """Return the station of the lower end [m]."""
        return float(self.station[-1])

    @property
    def length(self) -> float:
        """Return the length [m]."""
        return self.foot - self.head

    @property
    def step(self) -> float:
        """Return the mean spacing of the vertices [m]."""
        return self.length / (len(self.station) - 1)

    @property
    def median_width(self) -> float:
        """Return the river's usual width: the median [m]."""
        return float(np.median(self.widths))

    @cached_property
    def directions(self) -> FloatArray:
        """Return the direction downstream at each vertex [rad], from east, unwrapped."""
        return np.asarray(np.unwrap(np.arctan2(np.gradient(self.y), np.gradient(self.x))))

    @cached_property
    def curvatures(self) -> FloatArray:
        """Return the curvature at each vertex [1/m], positive where the river turns left.

        Second-order differences of (x' y'' - y' x'') / (x'^2 + y'^2)^(3/2); at the two ends that
        of the neighbour.
        """
        dx, dy = (np.gradient(along, self.station) for along in (self.x, self.y))
        ddx, ddy = (np.gradient(along, self.station) for along in (dx, dy))
        curve = (dx * ddy - dy * ddx) / (dx**2 + dy**2) ** 1.5
        if len(curve) > 5:
            curve[:2], curve[-2:] = curve[2], curve[-3]
        return np.asarray(curve)

    @cached_property
    def _turning(self) -> FloatArray:
        """Return how fast the direction turns at each vertex [rad/m]."""
        return np.asarray(np.gradient(self.directions, self.station))

    @cached_property
    def _tree(self) -> cKDTree:
        """Return the vertices as a search tree."""
        return cKDTree(np.column_stack([self.x, self.y]))

    def direction(self, station: FloatArray | float) -> FloatArray:
        """Return the direction downstream at stations [rad], from east, unwrapped."""
        return np.asarray(np.interp(station, self.station, self.directions))

    def curvature(self, station: FloatArray | float) -> FloatArray:
        """Return the curvature at stations [1/m], positive where the river turns left."""
        return np.asarray(np.interp(station, self.station, self.curvatures))

    def width(self, station: FloatArray | float) -> FloatArray:
        """Return the river's width at stations [m]."""
        return np.asarray(np.interp(station, self.station, self.widths))

    def vertex(self, station: FloatArray) -> IntArray:
        """Return the number of the vertex nearest to stations."""
        at = np.rint((station - self.head) / self.step)
        return np.asarray(at.clip(0, len(self.station) - 1), dtype=np.int32)

    def line(self) -> LineString:
        """Return the line as a geometry."""
        return LineString(np.column_stack([self.x, self.y]))

    def from_station_offset(
        self, station: FloatArray, offset: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return x, y [m] of places given by station and offset (positive to river left).

        Beyond the ends the line runs on straight. Holds for offsets inside the radius of the bend.
        """
        beyond = station - np.clip(station, self.head, self.foot)
        angle = self.direction(station)
        x = np.interp(station, self.station, self.x) + beyond * np.cos(angle)
        y = np.interp(station, self.station, self.y) + beyond * np.sin(angle)
        return x - offset * np.sin(angle), y + offset * np.cos(angle)

    def to_station_offset(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
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
        curve, first = self._turning, station
        for _ in range(3):
            along, across = self._from_foot(station, x, y)
            squeeze = 1 - across * np.interp(station, self.station, curve)
            step = along / np.where(squeeze > 0.05, squeeze, np.inf)
            station = np.clip(station + step, first - self.step, first + self.step)
        return station, self._from_foot(station, x, y)[1]

    def _from_foot(
        self, station: FloatArray, x: FloatArray, y: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return how far places lie along and to the left of the line's direction at stations."""
        angle = self.direction(station)
        cx, cy = self.from_station_offset(station, np.zeros(station.shape))
        along = (x - cx) * np.cos(angle) + (y - cy) * np.sin(angle)
        across = -(x - cx) * np.sin(angle) + (y - cy) * np.cos(angle)
        return along, across

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
