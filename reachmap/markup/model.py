"""Data model of the checked drawing: frozen, metric, in one CRS."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.base.words import (
    AccessKind,
    Cover,
    HazardKind,
    Part,
    Season,
    Side,
    SpeedHow,
    UnitSystem,
)
from reachmap.base.words_runs import StructureKind
from reachmap.gauge.model import Gauge
from reachmap.markup.canopy import Canopy
from reachmap.markup.dem_note import DemNote
from reachmap.markup.file_facts import FileFact
from reachmap.markup.kit import Kit
from reachmap.markup.own import Own
from reachmap.markup.plan_parts import Gps, Outing


@dataclass(frozen=True, slots=True)
class River:
    """A river line, drawn downstream.

    `share` is the share of the reach's flow that a tributary brings, NaN for any other line.
    """

    name: str
    part: Part
    line: LineString
    share: float = math.nan


@dataclass(frozen=True, slots=True)
class Bank:
    """A piece of bank: outline, side and cover.

    `rise_m` is the height of its outer edge above the traced water [m], `cover_height_m` that of
    its cover above ground [m]; NaN where the angler did not say. `from_cloud` says that this height
    is that of a lidar's returns, and not the angler's.
    """

    name: str
    outline: Polygon
    side: Side
    cover: Cover
    rise_m: float
    cover_height_m: float
    note: str
    from_cloud: bool = False

    def __post_init__(self) -> None:
        """Raise ValueError for a bank that no later stage could use."""
        if self.outline.is_empty or not self.outline.is_valid:
            msg = f"bank {self.name!r}: outline is empty or crosses itself"
            raise ValueError(msg)


class Origin(StrEnum):
    """Source of a piece of evidence.

    The drawing, the log of trips, an echo sounder, a track walked along the water's edge, a photo,
    a drift in a boat.
    """

    DRAWN = "drawn"
    LOG = "log"
    TRACK = "track"
    WALK = "walk"
    PHOTO = "photo"
    FLOAT = "float"


BY_PHONE = frozenset({Origin.LOG, Origin.PHOTO})
"""Origins of places located by a phone: each with an error of some metres."""


@dataclass(frozen=True, slots=True)
class Edge:
    """The water's edge observed at a flow [m3/s].

    A line, or the outline of the wet area; a point if it was logged on a trip.
    """

    shape: BaseGeometry
    flow: float
    date: str
    origin: Origin = Origin.DRAWN


@dataclass(frozen=True, slots=True)
class Sounding:
    """A measured depth [m] at a flow [m3/s], or a bed height [m]; NaN for the one not given.

    `date` is ISO, "" unknown. `error_m` is its own standard error [m], NaN for the default of a
    staff; those of one `group` share a further error, those without one ("") do not. `readings` is
    the number of depths it is the mean of.
    """

    name: str
    place: Point
    depth_m: float
    flow: float
    bed_m: float
    origin: Origin = Origin.DRAWN
    date: str = ""
    error_m: float = math.nan
    group: str = ""
    readings: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """Depths of one echo-sounder run at one flow: a set with a common error.

    Parameters
    ----------
    name
        File, and set where the file holds several.
    x, y
        Places in the project's CRS [m], in the order they were taken, shape (n,).
    depth_m
        Water at them [m], shape (n,), > 0.
    flow
        Of the river [m3/s].
    date
        ISO, "" unknown.
    lost
        Number of readings dropped: no bottom found, or a spike.
    flows
        Of the river at each depth [m3/s], shape (n,); None where `flow` holds for all.
    turning
        Number of depths dropped because the boat turned.
    """

    name: str
    x: FloatArray
    y: FloatArray
    depth_m: FloatArray
    flow: float
    date: str = ""
    lost: int = 0
    flows: FloatArray | None = None
    turning: int = 0


@dataclass(frozen=True, slots=True)
class Speed:
    """A measured speed [m/s] at a flow [m3/s]; those of one `group`, if any, share an error."""

    place: Point
    speed_m_s: float
    flow: float
    how: SpeedHow
    origin: Origin = Origin.DRAWN
    group: str = ""


@dataclass(frozen=True, slots=True)
class Level:
    """A measured water-surface height [m] at a flow [m3/s]."""

    place: Point
    level_m: float
    flow: float
    origin: Origin = Origin.DRAWN


@dataclass(frozen=True, slots=True)
class Standing:
    """A single tree or rock: height above ground [m] and radius [m]."""

    place: Point
    height_m: float
    radius_m: float


@dataclass(frozen=True, slots=True)
class StructureMark:
    """A place known to the angler to hold fish.

    `flow` [m3/s] is one at which it did, NaN if not given.
    """

    place: Point
    kind: StructureKind
    flow: float
    note: str
    origin: Origin = Origin.DRAWN


@dataclass(frozen=True, slots=True)
class Hazard:
    """A hazard."""

    shape: BaseGeometry
    kind: HazardKind
    note: str


@dataclass(frozen=True, slots=True)
class Access:
    """An access point to the water."""

    place: Point
    kind: AccessKind
    note: str


@dataclass(frozen=True, slots=True)
class NamedRun:
    """The angler's own name for a stretch."""

    name: str
    outline: Polygon


@dataclass(frozen=True, slots=True)
class SeasonLimits:
    """Depths [m] and speeds [m/s] the season's fish hold in; can be changed by the angler."""

    season: Season
    depth_low_m: float
    depth_high_m: float
    speed_low_m_s: float
    speed_high_m_s: float


@dataclass(frozen=True, slots=True)
class LieLimits:
    """Limits of the season's lies: depths [m] and the largest speed near the bed [m/s].

    Can be changed by the angler, like those of the water fished through (`SeasonLimits`).
    """

    season: Season
    depth_low_m: float
    depth_high_m: float
    speed_high_m_s: float


@dataclass(frozen=True, slots=True)
class Plan:
    """Values of reach.toml in SI, defaults filled in.

    `slope` is the fall over length of the main line, NaN where not given; `traced_flow` [m3/s] is
    the flow at which the river's edges of the bank polygons were traced; `flows` [m3/s] ascends.
    `other_seasons` are own limits of seasons other than `season`, `lies` own limits of lies of any
    season; `own` other numbers of the angler's; `accepted` the topics of evidence declared right,
    whatever else contradicts them; `ladder` is the number of flows evaluated from the lowest of
    `flows` to the highest, 0: `flows` alone, each solved by itself; `bed` is a word for the bed of
    the channel, "" if not given, `stones_m` the 84th percentile (D84) of its stone sizes [m], NaN
    if not given; `outing` describes who fishes on a day, `gps` how files for a GPS are written;
    `site_address` is the URL of the angler's own installable page, "" for none; `locale` is the
    one that outputs are written in, "" for plain English; `water_c` the temperature of the water
    that the map is read for [C], NaN if not given.
    """

    name: str
    units: UnitSystem
    slope: float
    traced_flow: float
    flows: tuple[float, ...]
    season: SeasonLimits
    kit: Kit
    dem: DemNote
    other_seasons: tuple[SeasonLimits, ...] = ()
    lies: tuple[LieLimits, ...] = ()
    own: Own = field(default_factory=Own)
    accepted: tuple[str, ...] = ()
    ladder: int = 0
    bed: str = ""
    stones_m: float = math.nan
    outing: Outing = field(default_factory=Outing)
    gps: Gps = field(default_factory=Gps)
    site_address: str = ""
    locale: str = ""
    imagery_credit: str = ""
    water_c: float = math.nan


@dataclass(frozen=True, slots=True)
class Markup:
    """All inputs of a reach, checked. Geometry is in `crs`, a projected metric CRS.

    `folder` is the reach folder, `dems` its DEM tiles and `imagery` its picture from the air, None
    where there is none: for those that read and write files; `assumed` are plain sentences for the
    angler; `digests` the SHA-256 of each file read; `files` what became of each file of the folder;
    `canopy` what stands along the river by a point cloud, None without one.
    """

    crs: str
    plan: Plan
    rivers: tuple[River, ...]
    banks: tuple[Bank, ...]
    edges: tuple[Edge, ...] = ()
    soundings: tuple[Sounding, ...] = ()
    speeds: tuple[Speed, ...] = ()
    levels: tuple[Level, ...] = ()
    tracks: tuple[Track, ...] = ()
    trees: tuple[Standing, ...] = ()
    rocks: tuple[Standing, ...] = ()
    structure: tuple[StructureMark, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    access: tuple[Access, ...] = ()
    runs: tuple[NamedRun, ...] = ()
    gauge: Gauge | None = None
    assumed: tuple[str, ...] = ()
    digests: dict[str, str] = field(default_factory=dict)
    folder: Path | None = None
    dems: tuple[Path, ...] = ()
    files: tuple[FileFact, ...] = ()
    imagery: Path | None = None
    canopy: Canopy | None = None

    @property
    def main(self) -> River:
        """Return the main river line."""
        return next(river for river in self.rivers if river.part is Part.MAIN)
