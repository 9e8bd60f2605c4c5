"""The drawing as read, before it is checked: any part of it may be at fault."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, Polygon

from reachmap.base.arrays import FloatArray
from reachmap.base.words import Part, UnitSystem
from reachmap.gauge.model import Gauge
from reachmap.markup.canopy import Canopy
from reachmap.markup.config import PlanRead
from reachmap.markup.dem_look import Tile, heights_at, unit_in_use
from reachmap.markup.features import Feature
from reachmap.markup.layers import LAYER_NAMES
from reachmap.markup.model import Edge, Level, Speed, Track

RIVER_SAMPLES = 80
"""Number of DEM samples along the main line (our choice)."""

BANK_SAMPLES = 24
"""Number of DEM samples along each bank's outline (our choice)."""


@dataclass(frozen=True, slots=True)
class Heights:
    """The DEM's heights at places of the drawing [m], NaN where it has no value.

    Parameters
    ----------
    station
        Metres down the main line.
    river
        Heights at those stations.
    covered
        Whether any tile covers the station.
    points
        Height at each feature of `levels` and `soundings`, in their order.
    banks
        Heights along the outline of each feature of `banks`, in their order.
    """

    station: FloatArray
    river: FloatArray
    covered: FloatArray
    points: Mapping[str, FloatArray]
    banks: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A reach folder as read.

    Parameters
    ----------
    crs
        The project's metric CRS, "" where no layer could be placed.
    reach_toml
        reach.toml as read.
    features
        The features of each layer, () for none; shapes at fault are None.
    files
        Names of the layers found in files, with or without features.
    tiles
        Metadata of the DEM's files.
    heights
        Heights at places of the drawing; None without a DEM or a main line.
    gauge
        The gauge, None without one.
    tracks
        Depths of echo sounders.
    imagery
        The picture from the air, None without one.
    walked, floated, leveled
        Edges of tracks and photos, speeds of drifts, and levels that photos show.
    canopy
        What stands along the river by a point cloud; None without one.
    """

    crs: str
    reach_toml: PlanRead
    features: Mapping[str, tuple[Feature, ...]]
    tiles: tuple[Tile, ...] = ()
    heights: Heights | None = None
    gauge: Gauge | None = None
    tracks: tuple[Track, ...] = ()
    imagery: Path | None = None
    files: frozenset[str] = field(default_factory=frozenset)
    walked: tuple[Edge, ...] = ()
    floated: tuple[Speed, ...] = ()
    leveled: tuple[Level, ...] = ()
    canopy: Canopy | None = None

    @property
    def units(self) -> UnitSystem:
        """Return the folder's units."""
        return self.reach_toml.plan.units

    @property
    def mains(self) -> tuple[Feature, ...]:
        """Return the drawn main lines that are not at fault: one in a valid drawing."""
        return tuple(
            one
            for one in self.features["river"]
            if one.shape is not None and one.values["part"] is Part.MAIN
        )

    @property
    def main(self) -> LineString | None:
        """Return the main line, None where there is not exactly one."""
        mains = self.mains
        return mains[0].shape if len(mains) == 1 else None


def no_features() -> dict[str, tuple[Feature, ...]]:
    """Return a mapping of every layer to no features."""
    return dict.fromkeys(LAYER_NAMES, ())


def sample_dem(
    tiles: tuple[Tile, ...],
    main: LineString,
    features: Mapping[str, tuple[Feature, ...]],
    crs: str,
    height_unit: str,
) -> Heights:
    """Return the DEM's heights at the places used by the checks.

    Parameters
    ----------
    tiles
        The DEM's files.
    main
        The main river line.
    features
        The drawing's features.
    crs
        The project's CRS.
    height_unit
        "m" or "ft", for files that do not give theirs.
    """
    unit_m = unit_in_use(tiles, height_unit)
    station = np.linspace(0, main.length, RIVER_SAMPLES)
    groups = [shapely.get_coordinates(main.interpolate(station))]
    for name in ("levels", "soundings"):
        places = [one.shape for one in features[name]]
        groups.append(np.array([_xy(place) for place in places]).reshape(-1, 2))
    groups += [
        np.empty((0, 2))
        if one.shape is None
        else shapely.get_coordinates(outline_places(one.shape))
        for one in features["banks"]
    ]
    every = np.vstack(groups)
    found = heights_at(tiles, every[:, 0], every[:, 1], crs, unit_m)
    river, levels, soundings, *banks = np.split(
        found, np.cumsum([len(each) for each in groups])[:-1]
    )
    outlines = shapely.union_all([tile.outline for tile in tiles])
    covered = shapely.covers(outlines, shapely.points(groups[0])).astype(np.float64)
    return Heights(
        station, river, covered, {"levels": levels, "soundings": soundings}, tuple(banks)
    )


def outline_places(outline: Polygon) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
    """Return the points along a bank's outline at which the DEM is sampled."""
    steps = np.linspace(0, 1, BANK_SAMPLES, endpoint=False)
    return np.asarray(outline.exterior.interpolate(steps, normalized=True))


def _xy(place: object) -> tuple[float, float]:
    """Return a point's coordinates, NaN for none."""
    x, y = getattr(place, "x", np.nan), getattr(place, "y", np.nan)
    return float(x), float(y)
