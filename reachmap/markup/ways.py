"""Paths recorded by a phone or watch: places and times from GPX tracks and tables, no depths."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import WGS84, transform_points
from reachmap.base.safe_files import FileKind, RefusedError, read_limited, read_text
from reachmap.base.units import to_si
from reachmap.markup.gpx_tracks import gpx_seconds, open_gpx
from reachmap.markup.layers import FLOW_LIMITS
from reachmap.markup.quantities import SPELLINGS
from reachmap.markup.track_table import read_rows
from reachmap.markup.tracks import Frame, record_flows

_FLOW_NAME = re.compile(
    r"(?<![\d.,])(\d+(?:[.,]\d+)?)[ _-]?(kcfs|cfs|cms|m3s)(?![a-z0-9])", re.IGNORECASE
)

PAUSE_S, LEAP_M = 600.0, 60.0
"""Pause [s] or jump [m] after which a new piece begins (our choices, 2-20 min and
40-100 m)."""

FLOW_CHANGE = 1.15
"""Largest factor by which the flow may change during a track (our choice,
1.1-1.25)."""

MOST_TIMES = 20
"""Number of times of a track at which its flow is looked up (our choice; records are hourly)."""

MOST_POINTS = 200_000
"""More points than this are refused (our choice: two days at one a second)."""

TABLE_FIX = "Name its columns lon and lat (or x and y) and time"
FLOW_FIX = (
    "Say the flow in the file's name, as in edge-2400cfs.gpx or edge-68cms.gpx, or put a record of "
    "that time into gauge/"
)


@dataclass(frozen=True, slots=True)
class Way:
    """A recorded path: places in the order they were passed, without a pause or jump.

    Parameters
    ----------
    name
        File, and number of the piece where there are several.
    x, y
        In the project's CRS [m], shape (n,).
    seconds
        UTC, since 1970 [s]; NaN where not given.
    """

    name: str
    x: FloatArray
    y: FloatArray
    seconds: FloatArray

    @property
    def date(self) -> str:
        """Return the day it was recorded, ISO; "" unknown."""
        first = self.seconds[np.isfinite(self.seconds)][:1]
        return day_of(first[0]) if first.size else ""

    def part(self, keep: np.ndarray, name: str = "") -> Way:
        """Return the path with only the places in `keep`."""
        return Way(name or self.name, self.x[keep], self.y[keep], self.seconds[keep])


def day_of(seconds: float) -> str:
    """Return the day of a time [s, UTC], ISO; "" for NaN."""
    return "" if math.isnan(seconds) else str(np.datetime64(int(seconds), "s"))[:10]


def read_ways(path: Path, folder: Path, frame: Frame) -> list[Way]:
    """Return the paths of a GPX file's tracks, or of a table with places and times.

    Raises
    ------
    RefusedError
        If it cannot be read, or has no track.
    """
    if path.suffix.lower() == ".gpx":
        pieces, degrees = _gpx(read_limited(path, FileKind.TEXT, folder)), True
    else:
        pieces, degrees = _table(read_text(path, FileKind.RECORD, folder), frame)
    source = WGS84 if degrees else frame.given_crs
    if not source:
        msg = "it has x and y, and nothing says in which CRS"
        raise RefusedError(msg, 'Name the CRS in reach.toml: crs = "EPSG:..."')
    if sum(len(one) for one in pieces) > MOST_POINTS:
        msg = f"it has more than {MOST_POINTS:,} places"
        raise RefusedError(msg, "Cut out of it what was not walked or drifted")
    ways: list[Way] = []
    for rows in pieces:
        good = np.isfinite(rows[:, :2]).all(axis=1)
        if degrees:
            good &= (np.abs(rows[:, 0]) <= 180) & (np.abs(rows[:, 1]) <= 90)
        x, y = transform_points(rows[good, 0], rows[good, 1], source, frame.crs)
        here = np.isfinite(x) & np.isfinite(y)
        ways += _parted(Way(path.name, x[here], y[here], rows[good, 2][here]))
    if not ways:
        msg = "it has no track of two places or more"
        raise RefusedError(msg, "Export the track again")
    if len(ways) == 1:
        return ways
    return [
        Way(f"{path.name}, piece {number}", one.x, one.y, one.seconds)
        for number, one in enumerate(ways, start=1)
    ]


def _gpx(body: bytes) -> list[FloatArray]:
    """Return longitude, latitude and time [s] of each segment of a GPX file's tracks."""
    return [
        np.array(
            [(one.longitude, one.latitude, gpx_seconds(one.time)) for one in segment.points],
            dtype=np.float64,
        ).reshape(-1, 3)
        for track in open_gpx(body).tracks
        for segment in track.segments
    ]


def _table(text: str, frame: Frame) -> tuple[list[FloatArray], bool]:
    """Return the places and times of a table, and whether they are degrees."""
    rows = read_rows(text, frame.units, frame.zone, depths=False)
    if isinstance(rows, str):
        raise RefusedError(rows, TABLE_FIX)
    seconds = rows.times.astype("datetime64[s]").astype(np.float64)
    seconds[np.isnat(rows.times)] = np.nan
    return [np.column_stack([rows.x, rows.y, seconds])], rows.degrees


def _parted(way: Way) -> list[Way]:
    """Return a path split at pauses and jumps; duplicate times are dropped."""
    latest = np.fmax.accumulate(way.seconds)
    way = way.part(np.r_[True, ~(way.seconds[1:] <= latest[:-1])][: way.x.size])
    later, far = np.diff(way.seconds), np.hypot(np.diff(way.x), np.diff(way.y))
    ends = np.flatnonzero((later > PAUSE_S) | (far > LEAP_M)) + 1
    pieces = np.split(np.arange(way.x.size), ends)
    return [way.part(one) for one in pieces if one.size > 1]


def flow_in_name(name: str) -> float:
    """Return the flow in a file's name [m3/s], such as "edge-2400cfs"; NaN for none."""
    found = _FLOW_NAME.search(name)
    if found is None:
        return math.nan
    unit = found[2].lower()
    number = float(found[1].replace(",", "."))
    return float(to_si(number * (1000 if unit == "kcfs" else 1), SPELLINGS[unit.lstrip("k")]))


def flow_of(name: str, seconds: FloatArray, frame: Frame) -> float | tuple[str, str]:
    """Return the river's flow during a recording [m3/s], or why it is unknown as (found, fix).

    The flow in the file's name takes precedence, then the gauge's record at its times.

    Parameters
    ----------
    name
        Of the file.
    seconds
        UTC, since 1970 [s]; NaN unknown.
    frame
        Common properties of the folder.
    """
    said = flow_in_name(name)
    if not math.isnan(said):
        if FLOW_LIMITS[0] <= said <= FLOW_LIMITS[1]:
            return said
        return f"the flow in its name, {said:g} m3/s, is none of a river one wades", FLOW_FIX
    known = seconds[np.isfinite(seconds)]
    if not known.size:
        return "it has no times, and its name says no flow", FLOW_FIX
    if frame.gauge is None:
        return "nobody says the river's flow when it was taken", FLOW_FIX
    _, flows = record_flows(frame.gauge, known, MOST_TIMES)
    flows = flows[np.isfinite(flows) & (flows >= FLOW_LIMITS[0])]
    if not flows.size:
        return "the gauge's record has no flow of its time", FLOW_FIX
    if flows.max() > FLOW_CHANGE * flows.min():
        found = f"the river changed from {flows[0]:.3g} to {flows[-1]:.3g} m3/s while it was taken"
        return found, "Cut it into shorter files, or take it in steady water"
    return float(np.median(flows))
