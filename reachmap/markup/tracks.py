"""Depths of a reach folder: tracks of echo sounders with their flows, and single soundings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.ndimage import median_filter
from shapely import Point

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.crs import WGS84, transform_points
from reachmap.base.errors import Fault
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import FileKind, RefusedError, read_limited, read_text
from reachmap.base.sniff import Content, content_of
from reachmap.base.words import UnitSystem
from reachmap.gauge.model import Gauge
from reachmap.gauge.record import flow_at
from reachmap.markup.features import Feature
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found
from reachmap.markup.layers import FLOW_LIMITS
from reachmap.markup.model import Track
from reachmap.markup.plan_parts import SounderNote
from reachmap.markup.sounder_gpx import read_gpx_depths
from reachmap.markup.sounder_nmea import read_nmea
from reachmap.markup.sounder_rows import Rows
from reachmap.markup.track_table import FIX, read_rows
from reachmap.markup.turns import turning

DEEPEST_M = 15.0
"""Greatest plausible depth of a wadeable river [m], as of a sounding (our choice)."""

SPIKE_M, SPIKE_SHARE, SPIKE_ROWS = 0.5, 0.3, 7
"""A depth that differs from the median of this many readings around it by more than this [m], and
by this share of it, is a spike: fish, weed, a lost bottom (our choices, 0.3-1 m, 0.2-0.5, 5-11)."""

MOST_READINGS = 2_000_000
"""More readings than this are refused (our choice: a week at three a second)."""

MOST_ALONE, ALONE_M = 300, 4.0
"""A table with at most this many depths, spaced by more than this in the median [m], holds single
soundings of a staff or line, not a sounder's track (our choices, 100-1000 and 3-8 m)."""

NEW_SET_HOURS = 6.0
"""Pause after which a new set begins [h]: another day, a new mounting (our choice, 2-12)."""

MOST_TIMES = 60
"""Number of times of a set at which its flow is looked up (our choice; records are hourly)."""


@dataclass(frozen=True, slots=True)
class TracksRead:
    """Tracks and single soundings found, faults, notes, and the use made of each file."""

    tracks: tuple[Track, ...]
    soundings: tuple[Feature, ...]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    facts: tuple[FileFact, ...]


@dataclass(frozen=True, slots=True)
class Frame:
    """Properties of a folder that apply to all its recorded files.

    Parameters
    ----------
    crs, given_crs
        The project's CRS, and the one given in reach.toml for x and y.
    units, zone
        Of plain numbers, and of times without an offset.
    gauge
        Its gauge, None without one.
    sounder
        Settings of the echo sounder in reach.toml.
    """

    crs: str
    given_crs: str
    units: UnitSystem
    zone: str
    gauge: Gauge | None
    sounder: SounderNote


def read_tracks(found: Sequence[Found], folder: Path, frame: Frame) -> TracksRead:
    """Return the depths of a folder's files.

    An error in a file named like a track is a fault; in another it is the reason why it is not
    used. A GPX file without depths is left to the readers of drawings and not reported here.

    Parameters
    ----------
    found
        The files.
    folder
        Reach folder that the files must lie in.
    frame
        Common properties of the folder.
    """
    tracks: list[Track] = []
    soundings: list[Feature] = []
    faults: list[Fault] = []
    notes: list[str] = []
    facts: list[FileFact] = []
    for one in found:
        rows = _rows(one.path, folder, frame)
        if rows is None:
            continue
        wrong = rows if isinstance(rows, tuple) else _wrong(rows, frame)
        sets: list[Track] = []
        if wrong is None and isinstance(rows, Rows):
            if _stand_alone(one.path.name, rows, frame):
                alone = _soundings(one.path.name, rows, frame)
                soundings += alone
                facts.append(FileFact(one.fact.name, Use.SOUNDINGS, number=len(alone)))
                continue
            sets, unknown = _sets(one.path.name, rows, frame)
            if unknown and one.named:
                faults += unknown
            elif unknown and not sets:
                wrong = (unknown[0].found, unknown[0].fix)
            else:
                notes += [f"{each.where} is not used: {each.found}. {each.fix}" for each in unknown]
        if wrong is not None:
            facts.append(FileFact(one.fact.name, Use.NOTHING, Unused.REFUSED, *wrong))
            faults += [Fault(one.path.name, *wrong)] if one.named else []
            continue
        tracks += sets
        number = sum(track.depth_m.size for track in sets)
        facts.append(FileFact(one.fact.name, Use.SOUNDER, number=number))
        notes += [_left_out(track) for track in sets if track.lost or track.turning]
    return TracksRead(tuple(tracks), tuple(soundings), tuple(faults), tuple(notes), tuple(facts))


def _left_out(track: Track) -> str:
    """Return a note on the depths of a track that were dropped."""
    parts = []
    if track.lost:
        parts.append("no bottom, no place, or a spike")
    if track.turning:
        parts.append(f"{track.turning} of them where the boat turned")
    left = track.lost + track.turning
    whole = left + track.depth_m.size
    return f"{track.name}: {left} of {whole} depths were left out: {'; '.join(parts)}."


def _rows(path: Path, folder: Path, frame: Frame) -> Rows | tuple[str, str] | None:
    """Return a file's depths, or its fault as (found, fix); None for a file without depths."""
    try:
        content = content_of(path)
        if content is Content.GPX:
            return read_gpx_depths(read_limited(path, FileKind.TEXT, folder))
        text = read_text(path, FileKind.RECORD, folder)
        nmea = content is Content.NMEA
        rows = read_nmea(text) if nmea else read_rows(text, frame.units, frame.zone)
    except RefusedError as error:
        return f"it cannot be read ({error.found})", error.fix
    except (OSError, ValueError, OverflowError) as error:
        return f"it makes no sense ({quoted(str(error), 120)})", FIX
    if isinstance(rows, str):
        return rows, SENTENCES if nmea else FIX
    return rows


SENTENCES = "Log the receiver's RMC sentences and the sounder's DPT or DBT sentences in one file"


def _wrong(rows: Rows, frame: Frame) -> tuple[str, str] | None:
    """Return the fault of a file as (found, fix); None where it can be used."""
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


def _stand_alone(file: str, rows: Rows, frame: Frame) -> bool:
    """Return whether a table holds single soundings instead of a track."""
    if file.lower().startswith("track") or rows.x.size > MOST_ALONE:
        return False
    x, y = _placed(rows, np.isfinite(rows.x) & np.isfinite(rows.y), frame)
    apart = np.hypot(np.diff(x), np.diff(y))
    return not apart.size or bool(np.median(apart) >= ALONE_M)


def _placed(rows: Rows, which: BoolArray, frame: Frame) -> tuple[FloatArray, FloatArray]:
    """Return places in the project's CRS [m], unchanged where there is none."""
    x, y = rows.x[which], rows.y[which]
    source = WGS84 if rows.degrees else frame.given_crs
    return transform_points(x, y, source, frame.crs) if frame.crs else (x, y)


def _soundings(file: str, rows: Rows, frame: Frame) -> list[Feature]:
    """Return the rows of a table as single soundings."""
    good = np.isfinite(rows.x) & np.isfinite(rows.y) & np.isfinite(rows.depth_m)
    x, y = _placed(rows, good, frame)
    flow = _flows(rows, good, frame)
    made = []
    for k, row in enumerate(np.flatnonzero(good)):
        name = str(rows.names[row])
        label = f"soundings {quoted(name, 40)}" if name else "soundings"
        known = FLOW_LIMITS[0] <= flow[k] <= FLOW_LIMITS[1]
        values = {
            "name": name,
            "depth": float(rows.depth_m[row]),
            "flow": float(flow[k]) if known else math.nan,
            "bed": math.nan,
        }
        shape = Point(x[k], y[k]) if frame.crs and math.isfinite(x[k] + y[k]) else None
        made.append(Feature("soundings", f"{label} (row {row + 2} of {file})", shape, values))
    return made


def _sets(file: str, rows: Rows, frame: Frame) -> tuple[list[Track], list[Fault]]:
    """Return each set of a file as a track, and a fault for each with unknown flow."""
    tracks, faults = [], []
    lost = rows.lost  # reported with the first set
    for label, mine in _parted(file, rows):
        flow = _flows(rows, mine, frame)
        low, high = FLOW_LIMITS
        known = np.isfinite(flow) & (flow >= low) & (flow <= high)
        if not known.any():
            found = "nobody says the river's flow when its depths were taken"
            fix = "Add a column flow, times that the gauge's record covers, or flow under [sounder]"
            faults.append(Fault(label, found, fix))
            continue
        rows_of = np.flatnonzero(mine)[known]
        depth = rows.depth_m + np.where(rows.from_surface, 0.0, frame.sounder.transducer_m)
        good = np.zeros(rows.x.shape, dtype=bool)
        good[rows_of] = True
        good &= np.isfinite(rows.x) & np.isfinite(rows.y)
        good &= (rows.depth_m > 0) & (depth <= DEEPEST_M)
        good[good] = ~spikes(depth[good])
        x, y = _placed(rows, good, frame)
        placed = np.isfinite(x) & np.isfinite(y)
        x, y, taken = x[placed], y[placed], np.flatnonzero(good)[placed]
        whole = np.full(rows.x.shape, np.nan)
        whole[np.flatnonzero(mine)] = flow
        flows = whole[taken]
        bent = turning(x, y) if frame.crs else np.zeros(x.shape, dtype=bool)
        tracks.append(
            Track(
                label,
                x[~bent],
                y[~bent],
                depth[taken][~bent],
                float(np.median(flows)) if flows.size else math.nan,
                _day(rows, mine),
                int(mine.sum()) - taken.size + lost,
                flows[~bent],
                int(bent.sum()),
            )
        )
        lost = 0
    return [one for one in tracks if one.depth_m.size], faults


def _parted(file: str, rows: Rows) -> list[tuple[str, BoolArray]]:
    """Return the sets of a file by name: those it names, split at long pauses."""
    found: list[tuple[str, BoolArray]] = []
    for name in dict.fromkeys(str(one) for one in rows.sets):
        mine = rows.sets == name
        label = f"{file}, set {quoted(name, 40)}" if name else file
        dated = np.flatnonzero(mine & ~np.isnat(rows.times))
        leap = np.abs(np.diff(rows.times[dated])) > np.timedelta64(round(NEW_SET_HOURS * 3600), "s")
        if not leap.any():
            found.append((label, mine))
            continue
        begins = dated[1:][leap]
        part = np.searchsorted(begins, np.arange(mine.size), side="right")
        found += [
            (f"{label}, part {number + 1}", mine & (part == number))
            for number in range(begins.size + 1)
        ]
    return found


def _flows(rows: Rows, mine: BoolArray, frame: Frame) -> FloatArray:
    """Return the flow of each of some rows [m3/s], NaN unknown.

    Its own, else the record's at its time, else that of the sounder in reach.toml. A row without a
    time takes the median of the others.
    """
    flow = rows.flow[mine].copy()
    if np.isfinite(flow).any():
        return np.where(np.isfinite(flow), flow, np.nanmedian(flow))
    times = rows.times[mine]
    dated = ~np.isnat(times)
    if frame.gauge is not None and dated.any():
        seconds = times[dated].astype(np.int64).astype(np.float64)
        known, flows = record_flows(frame.gauge, seconds, MOST_TIMES)
        if np.isfinite(flows).any():
            flow[dated] = np.interp(seconds, known, flows)
            flow[~dated] = np.nanmedian(flows)
    return np.where(np.isfinite(flow), flow, frame.sounder.flow)


def record_flows(gauge: Gauge, seconds: FloatArray, most: int) -> tuple[FloatArray, FloatArray]:
    """Return evenly spaced times over a span, and the record's flow at each.

    Parameters
    ----------
    gauge
        The folder's.
    seconds
        UTC, since 1970 [s], shape (n,), n > 0, finite.
    most
        Largest number of times, from the first to the last.

    Returns
    -------
    times, flow
        Rising [s], and the flow there [m3/s], NaN where the record has none.
    """
    times = np.unique(np.linspace(seconds.min(), seconds.max(), most).round())
    return times, np.array([flow_at(gauge, np.datetime64(int(one), "s")) for one in times])


def _day(rows: Rows, mine: BoolArray) -> str:
    """Return the day a set was taken, ISO; "" unknown."""
    times = rows.times[mine]
    times = times[~np.isnat(times)]
    return str(times.min())[:10] if times.size else ""


def spikes(depth: FloatArray) -> BoolArray:
    """Return a mask of depths [m] that differ from the median of their neighbours in time."""
    usual = median_filter(depth, size=SPIKE_ROWS, mode="nearest")
    off = np.abs(depth - usual)
    return np.asarray((off > SPIKE_M) & (off > SPIKE_SHARE * usual))
