"""Reads the gauge's files and merges them into one gauge: a rating and a record of flow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import Fault
from reachmap.base.safe_files import FileKind, RefusedError, read_limited
from reachmap.base.words import UnitSystem
from reachmap.gauge.measurements import joined
from reachmap.gauge.model import Gauge, GaugeNote
from reachmap.gauge.model_netcdf import is_netcdf, read_netcdf
from reachmap.gauge.parts import Held, Parts, RatingFile, Series, Times
from reachmap.gauge.readers import READ_ENDINGS, read_text_file
from reachmap.gauge.shift import shifted
from reachmap.gauge.stage_flow import flow_from_stage


class GaugeContent(StrEnum):
    """Content found in a gauge file."""

    RATING = "rating"
    RECORD = "record"
    MEASURED = "measured"
    SECOND_RATING = "second_rating"


@dataclass(frozen=True, slots=True)
class GaugeRead:
    """A gauge, None where no file holds any data, with faults, notes, and each file's contents."""

    gauge: Gauge | None
    faults: list[Fault]
    notes: list[str]
    contents: dict[Path, tuple[GaugeContent, ...]]


def read_gauge(
    paths: Sequence[Path], note: GaugeNote, units: UnitSystem, *, forecast: bool = False
) -> tuple[Gauge | None, list[Fault], list[str]]:
    """Return the gauge, faults and notes of `read_gauge_files`."""
    read = read_gauge_files(paths, note, units, forecast=forecast)
    return read.gauge, read.faults, read.notes


def read_gauge_files(
    paths: Sequence[Path], note: GaugeNote, units: UnitSystem, *, forecast: bool = False
) -> GaugeRead:
    """Return the gauge described by its files, and the contents of each file.

    Parameters
    ----------
    paths
        The files.
    note
        Settings of the gauge in reach.toml.
    units
        The folder's units, for plain columns of CSV.
    forecast
        Whether to take the forecast, not the readings, of files that hold both.
    """
    parts = Parts(forecast=forecast)
    contents: dict[Path, tuple[GaugeContent, ...]] = {}
    for path in paths:
        before = len(parts.ratings), len(parts.series), len(parts.measured)
        contents[path] = ()
        if path.suffix.lower() not in READ_ENDINGS or path.stem.lower() == "readme":
            parts.notes.append(f"gauge file {path.name} is not of a kind that is read.")
            continue
        _read_file(path, note, units, parts)
        after = len(parts.ratings), len(parts.series), len(parts.measured)
        grown = (new > old for old, new in zip(before, after, strict=True))
        contents[path] = tuple(
            what
            for what, more in zip(
                (GaugeContent.RATING, GaugeContent.RECORD, GaugeContent.MEASURED),
                grown,
                strict=True,
            )
            if more
        )
    rating = _one_rating(parts)
    times, flow = _one_record(parts, rating)
    measured = joined(parts.measured)
    if rating is None and not times.size and measured is None:
        return GaugeRead(None, parts.faults, parts.notes, contents)
    gauge = Gauge(
        name=note.name or parts.name or "gauge",
        segments=() if rating is None else rating.segments,
        times=times,
        flow=flow,
        zero_m=note.zero_m,
        shift=None if rating is None else rating.shift,
        measured=measured,
        above_foot_m=note.above_foot_m,
    )
    for path, things in contents.items():
        if rating is not None and GaugeContent.RATING in things and path.name != rating.file:
            other = tuple(one for one in things if one is not GaugeContent.RATING)
            contents[path] = (*other, GaugeContent.SECOND_RATING)
    return GaugeRead(gauge, parts.faults, parts.notes, contents)


def _read_file(path: Path, note: GaugeNote, units: UnitSystem, parts: Parts) -> None:
    """Add the contents of one file to `parts`."""
    try:
        body = read_limited(path, FileKind.RECORD)
    except RefusedError as error:
        parts.fault(path.name, error.found, error.fix)
        return
    if is_netcdf(body):
        read_netcdf(path, note.feature_id, parts)
        return
    text = body.decode("utf-8-sig", errors="replace")
    read_text_file(path.name, text, units, note.time_zone, parts)


def _one_rating(parts: Parts) -> RatingFile | None:
    """Return the rating to use: preferably one that includes the shift in force."""
    shifted_ones = [rating for rating in parts.ratings if rating.shifted]
    usable = shifted_ones or parts.ratings
    if len(usable) > 1:
        names = " and ".join(rating.file for rating in usable)
        parts.fault(names, "each holds a rating", "Keep the one in force in the folder")
        return None
    if shifted_ones and len(parts.ratings) > 1:
        file = shifted_ones[0].file
        parts.notes.append(f"gauge file {file}: its rating, with shifts, is the one used.")
    return usable[0] if usable else None


def _one_record(parts: Parts, rating: RatingFile | None) -> tuple[Times, FloatArray]:
    """Return the record of flow; readings take precedence over daily means, flow over stage."""
    ranked = sorted(parts.series, key=lambda one: (one.daily, one.held is Held.STAGE))
    times: Times = np.empty(0, dtype="datetime64[s]")
    flow: FloatArray = np.empty(0)
    for series in ranked:
        when, values = series.times, series.values
        if series.held is Held.STAGE:
            if rating is None:
                told = f"gauge file {series.file}: stages without a rating give no flow."
                parts.notes.append(told)
                continue
            values = flow_from_stage(rating.segments, shifted(values, rating.shift))
        new = ~np.isnat(when) & ~_already_covered(series, times[np.isfinite(flow)])
        times, flow = np.concatenate([times, when[new]]), np.concatenate([flow, values[new]])
    # at one instant a number takes precedence over a gap
    order = np.lexsort((np.isnan(flow), times))
    times, flow = times[order], flow[order]
    first = np.r_[True, np.diff(times) > np.timedelta64(0, "s")][: times.size]
    return times[first], flow[first]


def _already_covered(series: Series, taken: Times) -> BoolArray:
    """Return which readings' instant or day is already in a series of higher precedence."""
    if series.daily:
        days = taken.astype("datetime64[D]")
        return np.asarray(np.isin(series.times.astype("datetime64[D]"), days))
    return np.asarray(np.isin(series.times, taken))
