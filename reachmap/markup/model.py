"""The drawing as later stages see it: frozen, metric, in one CRS, already checked."""

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
from reachmap.markup.file_facts import FileFact
from reachmap.markup.kit import Kit
from reachmap.markup.own import Own
from reachmap.markup.plan_parts import Gps, Outing


@dataclass(frozen=True, slots=True)
class River:
    """A river line, drawn downstream.

    `share` is the part of the reach's flow that a tributary brings, NaN for any other line.
    """

    name: str
    part: Part
    line: LineString
    share: float = math.nan


@dataclass(frozen=True, slots=True)
class Bank:
    """A piece of bank: outline, side and cover.

    `rise_m` is the height of its outer edge above the traced water [m], `cover_height_m` that of
    its cover above ground [m]; NaN where the angler did not say.
    """

    name: str
    outline: Polygon
    side: Side
    cover: Cover
    rise_m: float
    cover_height_m: float
    note: str

    def __post_init__(self) -> None:
        """Refuse a bank that no later stage could use."""
        if self.outline.is_empty or not self.outline.is_valid:
            msg = f"bank {self.name!r}: outline is empty or crosses itself"
            raise ValueError(msg)


class Origin(StrEnum):
    """Where a piece of evidence comes from.

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
"""Origins of single places that a phone told: off by some metres each."""


@dataclass(frozen=True, slots=True)
class Edge:
    """Where the water's edge was seen at a flow [m3/s].

    A line, or the outline of the wet area; a point where it was logged on a trip.
    """

    shape: BaseGeometry
    flow: float
    date: str
    origin: Origin = Origin.DRAWN


@dataclass(frozen=True, slots=True)
class Sounding:
    """A measured depth [m] at a flow [m3/s], or a bed height [m]; what was not given is NaN.

    `date` is ISO, "" unknown. `error_m` is its own standard error [m], NaN for the usual one of a
    staff; those of one `group` share a further error, those of none ("") do not. `readings` is how
    many depths it is the mean of.
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
    """Depths of one echo-sounder drive at one flow: a set that shares its errors.

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
        Readings left out while reading: no bottom found, or a spike.
    flows
        Of the river at each depth [m3/s], shape (n,); None where `flow` was that of all.
    turning
        Depths left out since the boat turned.
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
    """A place that the angler knows to hold fish.

    `flow` [m3/s] is one at which it did, NaN if nobody said.
    """

    place: Point
    kind: StructureKind
    flow: float
    note: str
    origin: Origin = Origin.DRAWN


@dataclass(frozen=True, slots=True)
class Hazard:
    """Something that can hurt."""

    shape: BaseGeometry
    kind: HazardKind
    note: str


@dataclass(frozen=True, slots=True)
class Access:
    """A way to the water."""

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
    """Depths [m] and speeds [m/s] the season's fish hold in; the angler's to change."""

    season: Season
    depth_low_m: float
    depth_high_m: float
    speed_low_m_s: float
    speed_high_m_s: float


@dataclass(frozen=True, slots=True)
class LieLimits:
    """Where the season's fish lie: depths [m] and the most speed near the bed [m/s].

    The angler's to change, as those of the water one swings a fly through (`SeasonLimits`).
    """

    season: Season
    depth_low_m: float
    depth_high_m: float
    speed_high_m_s: float


@dataclass(frozen=True, slots=True)
class DemNote:
    """What reach.toml says of the DEM.

    `flow` is the river's discharge on the day it was flown [m3/s], NaN if nobody said;
    `height_unit` is "m" or "ft"; `datum` is the name of its vertical datum; `below_water` says that
    it knows the bed under water, False leaves that to its heights.
    """

    flow: float
    height_unit: str
    datum: str
    below_water: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """reach.toml as values: SI, defaults filled in.

    `slope` is the fall over length of the main line, NaN where not given; `traced_flow` [m3/s] is
    the flow at which the river's edges of the bank polygons were traced; `flows` [m3/s] rises.
    `other_seasons` are own limits of seasons other than `season`, `lies` own limits of lies of any
    season; `own` other numbers of the angler's; `accepted` the kinds of evidence declared right,
    whatever else contradicts them; `ladder` how many flows are read from the lowest of `flows` to
    the highest, 0: `flows` alone, each solved by itself; `bed` is a word for the bed of the
    channel, "" where not said, `stones_m` the size that 84 of 100 of its stones do not reach, NaN
    where not given; `outing` says who fishes on a day, `gps` how files for a GPS are written;
    `site_address` is where the angler's own installable page is found, "" for nowhere; `locale`
    is the one that outputs are written in, "" for plain English.
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


@dataclass(frozen=True, slots=True)
class Markup:
    """All that the angler gave, checked. Geometry is in `crs`, a projected metric CRS.

    `folder` is the reach folder, `dems` its DEM tiles and `imagery` its picture from the air, None
    where there is none: for those that read and write files; `assumed` are plain sentences for the
    angler; `digests` the SHA-256 of each file read; `files` what became of each file of the folder.
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

    @property
    def main(self) -> River:
        """Return the main river line."""
        return next(river for river in self.rivers if river.part is Part.MAIN)
