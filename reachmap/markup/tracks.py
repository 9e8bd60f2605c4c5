"""Tracks of an echo sounder in a reach folder: read, tidied, each set with its flow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.ndimage import median_filter

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.crs import WGS84, transform_points
from reachmap.base.errors import Fault
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import Gauge
from reachmap.gauge.record import flow_at
from reachmap.markup.layers import FLOW_LIMITS
from reachmap.markup.model import Track
from reachmap.markup.track_table import FIX, Rows, read_rows

DEEPEST_M = 15.0
"""Depths beyond this are none of a river one wades [m]: as of a sounding (our choice)."""

SPIKE_M, SPIKE_SHARE, SPIKE_ROWS = 0.5, 0.3, 7
"""A depth off the median of so many readings about it by more than this [m], and by this share of
it, is a spike: a fish, weed, a lost bottom (our choices, 0.3-1 m, 0.2-0.5, 5-11)."""

MOST_READINGS = 2_000_000
"""More readings than this are refused (our choice: a week at three a second)."""


@dataclass(frozen=True, slots=True)
class TracksRead:
    """Tracks found, faults of their files, and notes on what was left out."""

    tracks: tuple[Track, ...]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Frame:
    """What a folder says of its files: its CRS, the one its files are in, units, zone, gauge."""

    crs: str
    given_crs: str
    units: UnitSystem
    zone: str
    gauge: Gauge | None


def read_tracks(paths: Sequence[Path], folder: Path, frame: Frame) -> TracksRead:
    """Return the tracks of a folder's files.

    Parameters
    ----------
    paths
        The files.
    folder
        That they must stay in.
    frame
        Of the folder.
    """
    tracks: list[Track] = []
    faults: list[Fault] = []
    notes: list[str] = []
    for path in paths:
        try:
            rows = read_rows(read_text(path, FileKind.RECORD, folder), frame.units, frame.zone)
        except RefusedError as error:
            faults.append(Fault(path.name, f"it cannot be read ({error.found})", error.fix))
            continue
        except (OSError, ValueError, OverflowError) as error:
            faults.append(Fault(path.name, f"it makes no sense ({quoted(str(error), 120)})", FIX))
            continue
        if isinstance(rows, str):
            faults.append(Fault(path.name, rows, FIX))
            continue
        wrong = _wrong(rows, frame)
        if wrong is not None:
            faults.append(Fault(path.name, *wrong))
            continue
        found, unknown = _sets(path.name, rows, frame)
        tracks += found
        faults += unknown
        notes += [
            f"{one.name}: {one.lost} of {one.lost + one.depth_m.size} depths were left out: no "
            "bottom, no place, or a spike."
            for one in found
            if one.lost
        ]
    return TracksRead(tuple(tracks), tuple(faults), tuple(notes))


def _wrong(rows: Rows, frame: Frame) -> tuple[str, str] | None:
    """Return what is wrong with a file as (found, fix); None where it can be read."""
    known = np.isfinite(rows.x) & np.isfinite(rows.y) & (rows.depth_m > 0)
    if known.size > MOST_READINGS:
        return f"it has {known.size:,} rows, at most {MOST_READINGS:,} are read", "Thin it out"
    if not known.any():
        return "no row has a place and a depth above zero", FIX
    if rows.degrees and (np.abs(rows.y[known]).max() > 90 or np.abs(rows.x[known]).max() > 180):
        return "its places are not longitude and latitude", "Call metres x and y"
    if not rows.degrees and not frame.given_crs:
        return (
            "it has x and y, and nothing says in which CRS",
            'Give longitude and latitude, or name the CRS in reach.toml: crs = "EPSG:..."',
        )
    if np.median(rows.depth_m[known]) > DEEPEST_M:
        return (
            f"half of its depths are beyond {DEEPEST_M:g} m",
            "Name the unit of depth in the column's name: depth_ft, depth_m, depth_cm",
        )
    return None


def _sets(file: str, rows: Rows, frame: Frame) -> tuple[list[Track], list[Fault]]:
    """Return each set of a file as a track, and a fault for each whose flow nobody knows."""
    tracks, faults = [], []
    for name in dict.fromkeys(str(one) for one in rows.sets):
        mine = rows.sets == name
        label = f"{file}, set {quoted(name, 40)}" if name else file
        flow = _flow(rows, mine, frame.gauge)
        low, high = FLOW_LIMITS
        if not low <= flow <= high:
            found = "nobody says the river's flow when its depths were taken"
            fix = "Add a column flow, or times that the gauge's record covers"
            faults.append(Fault(label, found, fix))
            continue
        good = mine & np.isfinite(rows.x) & np.isfinite(rows.y)
        good &= (rows.depth_m > 0) & (rows.depth_m <= DEEPEST_M)
        good[good] = ~spikes(rows.depth_m[good])
        source = WGS84 if rows.degrees else frame.given_crs
        x, y = rows.x[good], rows.y[good]
        if frame.crs:
            x, y = transform_points(x, y, source, frame.crs)
        placed = np.isfinite(x) & np.isfinite(y)
        tracks.append(
            Track(
                label,
                x[placed],
                y[placed],
                rows.depth_m[good][placed],
                flow,
                _day(rows, mine),
                int(mine.sum() - placed.sum()),
            )
        )
    return [one for one in tracks if one.depth_m.size], faults


def _flow(rows: Rows, mine: BoolArray, gauge: Gauge | None) -> float:
    """Return the flow of a set [m3/s]: its own, else the record's at its times; NaN unknown.

    The median over its rows.
    """
    own = rows.flow[mine]
    if np.isfinite(own).any():
        return float(np.nanmedian(own))
    times = rows.times[mine]
    times = np.sort(times[~np.isnat(times)])
    if gauge is None or not times.size:
        return float("nan")
    # A record is hourly at best: a few times tell all of a drive.
    asked = times[np.unique(np.linspace(0, times.size - 1, 25).astype(np.int64))]
    flows = np.array([flow_at(gauge, when) for when in asked])
    return float(np.nanmedian(flows)) if np.isfinite(flows).any() else float("nan")


def _day(rows: Rows, mine: BoolArray) -> str:
    """Return the day a set was taken, ISO; "" unknown."""
    times = rows.times[mine]
    times = times[~np.isnat(times)]
    return str(times.min())[:10] if times.size else ""


def spikes(depth: FloatArray) -> BoolArray:
    """Return which depths stand off the median of their neighbours in the order taken [m]."""
    usual = median_filter(depth, size=SPIKE_ROWS, mode="nearest")
    off = np.abs(depth - usual)
    return np.asarray((off > SPIKE_M) & (off > SPIKE_SHARE * usual))
