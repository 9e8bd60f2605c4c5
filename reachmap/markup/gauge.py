"""The gauge's files put together into one gauge: a rating and a record of flow."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from reachmap.base.errors import Fault
from reachmap.base.shapes import F8
from reachmap.base.words import UnitSystem
from reachmap.markup.gauge_csv import read_csv
from reachmap.markup.gauge_parts import Held, Parts, Times
from reachmap.markup.gauge_rdb import is_rdb, read_rdb
from reachmap.markup.model import Gauge, RatingSegment
from reachmap.markup.plan import GaugeNote
from reachmap.markup.rated import flow_from_stage

READ_ENDINGS = frozenset({".rdb", ".txt", ".csv", ".tsv", ".json", ".geojson", ".xml", ".wml"})
"""Files of the gauge folder that are looked at."""

LARGEST_BYTES = 400_000_000
"""A gauge file larger than this is not opened (our choice)."""


def read_gauge(
    paths: Sequence[Path], note: GaugeNote, units: UnitSystem
) -> tuple[Gauge | None, list[Fault], list[str]]:
    """Return the gauge its files describe, with faults and notes; None where no file says anything.

    Parameters
    ----------
    paths
        The files.
    note
        What reach.toml says of the gauge.
    units
        The folder's units, for plain columns of CSV.
    """
    parts = Parts()
    for path in paths:
        if path.suffix.lower() not in READ_ENDINGS or path.stem.lower() == "readme":
            parts.notes.append(f"gauge file {path.name} is not of a kind that is read.")
            continue
        _read_file(path, note, units, parts)
    segments = _one_rating(parts)
    times, flow = _one_record(parts, segments)
    if not segments and not times.size:
        return None, parts.faults, parts.notes
    gauge = Gauge(note.name or parts.name or "gauge", segments, times, flow, note.zero_m)
    return gauge, parts.faults, parts.notes


def _read_file(path: Path, note: GaugeNote, units: UnitSystem, parts: Parts) -> None:
    """Add what one file holds."""
    if path.stat().st_size > LARGEST_BYTES:
        parts.fault(path.name, "it is too large to be a gauge's record", "Take it out")
        return
    text = path.read_bytes().decode("utf-8-sig", errors="replace")
    if not text.strip():
        parts.fault(path.name, "it is empty", "Fetch it again, or take it out")
    elif is_rdb(text):
        read_rdb(path.name, text, note.time_zone, parts)
    elif text.lstrip()[:1] in {"{", "[", "<"}:
        parts.fault(path.name, "it is not a gauge file that is known", "Take it out")
    else:
        read_csv(path.name, text, units, note.time_zone, parts)


def _one_rating(parts: Parts) -> tuple[RatingSegment, ...]:
    """Return the one rating to use: with today's shifts where there is such a one."""
    shifted = [rating for rating in parts.ratings if rating.shifted]
    usable = shifted or parts.ratings
    if len(usable) > 1:
        names = " and ".join(rating.file for rating in usable)
        parts.fault(names, "each holds a rating", "Keep the one in force in the folder")
        return ()
    if shifted and len(parts.ratings) > 1:
        parts.notes.append(
            f"gauge file {shifted[0].file}: its rating, with shifts, is the one used."
        )
    return usable[0].segments if usable else ()


def _one_record(parts: Parts, segments: Sequence[RatingSegment]) -> tuple[Times, F8]:
    """Return the record of flow: readings before means of days, flow before stage."""
    ranked = sorted(parts.series, key=lambda one: (one.daily, one.held is Held.STAGE))
    times: Times = np.empty(0, dtype="datetime64[s]")
    flow: F8 = np.empty(0)
    for series in ranked:
        good = ~np.isnat(series.times)
        when = series.times[good]
        values = series.values[good] if series.held is Held.FLOW else None
        if values is None:
            if not segments:
                text = f"gauge file {series.file}: stages without a rating give no flow."
                parts.notes.append(text)
                continue
            values = flow_from_stage(segments, series.values[good])
        if times.size:  # the finer record speaks for the days it covers
            outside = (when < times.min()) | (when > times.max())
            when, values = when[outside], values[outside]
        times, flow = np.concatenate([times, when]), np.concatenate([flow, values])
    order = np.argsort(times, kind="stable")
    times, flow = times[order], flow[order]
    first = (
        np.r_[True, np.diff(times) > np.timedelta64(0, "s")] if times.size else np.empty(0, bool)
    )
    return times[first], flow[first]
