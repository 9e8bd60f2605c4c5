"""RDB, the tab-separated text of the US Geological Survey: ratings and records.

Comment lines begin with ``#``; then a line of column names, a line of formats and the data.
Facts of the format: docs/sources.md, "Gauge files".
"""

from __future__ import annotations

import csv
import io
import re
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray
from reachmap.base.quoting import quoted
from reachmap.base.units import to_si
from reachmap.gauge.measurements import MEASURED_COLUMNS, measured_of
from reachmap.gauge.model import RatingSegment
from reachmap.gauge.parts import (
    NUMBER,
    Held,
    Parts,
    RatingFile,
    Series,
    Times,
    noon_of_days,
    numbers,
    utc_from_codes,
    utc_from_texts,
)
from reachmap.gauge.shift import shift_of_comments
from reachmap.gauge.stage_flow import flow_from_stage

PARAMETERS = {"00060": (Held.FLOW, "cfs"), "00065": (Held.STAGE, "ft")}
"""Codes of the parameters that are read, with their unit."""

DAILY_MEAN = "00003"

_FORMAT_CELL = re.compile(r"\d+[sdn]", re.IGNORECASE)
_KEY = re.compile(rf"(BREAKPOINT|OFFSET)(\d+)\s*=\s*\"?\s*({NUMBER})(?![-+.\w])")
_ANY_KEY = re.compile(r"(?:BREAKPOINT|OFFSET)\d+\s*=\s*\"?\s*([^\s\",;]*)")
_NAME = re.compile(r'STATION NAME="([^"]*)"')
_SITE = re.compile(r"#\s+USGS\s+\d{8,15}\s+(\S.*)")
_EXPANSION = re.compile(r'RATING EXPANSION="([^"]*)"')
_COLUMN = re.compile(r"(?:.*_)?(00060|00065)(?:_(\d{5}))?")


@dataclass(frozen=True, slots=True)
class Rdb:
    """A parsed RDB file."""

    comments: tuple[str, ...]
    columns: Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True)
class RatingHead:
    """Breakpoints and offsets [ft] in a rating file's comments, ascending."""

    breakpoints: tuple[float, ...]
    offsets: tuple[float, ...]


def is_rdb(text: str) -> bool:
    """Return whether a text is an RDB file: tabs, and a line of formats below the column names."""
    lines = [line for line in text.splitlines()[:400] if line and not line.startswith("#")]
    return len(lines) >= 2 and "\t" in lines[0] and _is_format(lines[1].split("\t"))


def parse_rdb(text: str) -> Rdb:
    """Return a parsed RDB text; cells missing at a row's end are empty, all others unchanged."""
    lines = text.splitlines()
    comments = tuple(line for line in lines if line.startswith("#"))
    if comments:
        lines = [line for line in lines if not line.startswith("#")]
    names = [name.strip() for name in lines[0].split("\t")]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", pd.errors.ParserWarning)  # rows with a tab too many
        table = pd.read_csv(
            io.StringIO("\n".join(lines[1:])),
            sep="\t",
            header=None,
            names=range(len(names)),
            index_col=False,
            dtype=str,
            keep_default_na=False,
            quoting=csv.QUOTE_NONE,
            on_bad_lines="skip",
        ).fillna("")
    # the line of formats; some files repeat it and the column names for each site or series
    first = table[0].str.strip()
    table = table[~first.isin([names[0], first.iloc[0]])]
    cells = [table[column].to_numpy(dtype=object).tolist() for column in table]
    return Rdb(comments, dict(zip(names, cells, strict=True)))


def read_rdb(file: str, text: str, zone: str, parts: Parts) -> None:
    """Add what an RDB file holds to `parts`: a rating, or series of flow and stage."""
    rdb = parse_rdb(text)
    for line in rdb.comments:
        if found := _NAME.search(line) or _SITE.fullmatch(line):
            parts.name = parts.name or " ".join(found[1].split())
    if {"INDEP", "DEP"} <= rdb.columns.keys():
        _read_rating(file, rdb, parts)
    elif rdb.columns.keys() >= MEASURED_COLUMNS:
        parts.measured.append(measured_of(rdb.columns, zone))
    elif "measurement_nu" in rdb.columns:
        missing = ", ".join(sorted(MEASURED_COLUMNS - rdb.columns.keys()))
        fix = "Fetch the measurements again, with all their columns"
        parts.fault(file, f"its measurements have no column {missing}", fix)
    elif "datetime" in rdb.columns:
        _read_series(file, rdb, zone, parts)
    else:
        names = ", ".join(list(rdb.columns)[:8])
        fix = "Keep rating tables and records of flow or stage here; move others out"
        parts.fault(file, f"its columns are not known ({names})", fix)


def rating_head(comments: Sequence[str]) -> RatingHead:
    """Return the breakpoints and offsets [ft] that a rating file's comments give."""
    found: dict[str, dict[int, float]] = {"BREAKPOINT": {}, "OFFSET": {}}
    for line in comments:
        if not _heads(line):
            continue
        for kind, number, value in _KEY.findall(line):
            found[kind][int(number)] = float(value)
    return RatingHead(
        tuple(value for _, value in sorted(found["BREAKPOINT"].items())),
        tuple(value for _, value in sorted(found["OFFSET"].items())),
    )


def bad_head_lines(comments: Sequence[str]) -> list[str]:
    """Return the comment lines whose breakpoints or offsets are not numbers."""
    lines = [line for line in comments if _heads(line)]
    return [
        text
        for line in lines
        for text in _ANY_KEY.findall(line)
        if text and not re.fullmatch(NUMBER, text)
    ]


def _heads(line: str) -> bool:
    """Return whether a comment may hold breakpoints and offsets."""
    return "RATING" in line and "REMARKS" not in line and "COMMENT" not in line


def segments_of(
    stage: FloatArray, flow: FloatArray, breakpoints: Sequence[float], offsets: Sequence[float]
) -> tuple[RatingSegment, ...]:
    """Return a rating's points cut at its breakpoints; a point on one belongs to both sides.

    Parameters
    ----------
    stage
        Stages [m], rising.
    flow
        Discharges [m3/s].
    breakpoints
        Stages at which the offset changes [m], rising.
    offsets
        Offset of each piece [m], one more than breakpoints.
    """
    for index, edge in enumerate(breakpoints):
        stage, flow = _with_point(stage, flow, float(edge), float(offsets[index]))
    tiny = 1e-9
    segments = []
    for (low, high), offset in zip(pairwise([-np.inf, *breakpoints, np.inf]), offsets, strict=True):
        inside = (stage >= low - tiny) & (stage <= high + tiny)
        if inside.any():
            segments.append(RatingSegment(stage[inside], flow[inside], float(offset)))
    return tuple(segments)


def _with_point(
    stage: FloatArray, flow: FloatArray, edge: float, offset: float
) -> tuple[FloatArray, FloatArray]:
    """Return the points with one added at a breakpoint, on the curve of the segment below it."""
    after = int(np.searchsorted(stage, edge))
    near = np.abs(stage - edge).min() < 1e-9
    if near or after in {0, stage.size} or flow[after - 1] <= 0 or stage[after - 1] <= offset:
        return stage, flow
    ends = [RatingSegment(stage[after - 1 : after + 1], flow[after - 1 : after + 1], offset)]
    found = flow_from_stage(ends, np.array([edge]))
    return np.insert(stage, after, edge), np.insert(flow, after, found)


def _read_rating(file: str, rdb: Rdb, parts: Parts) -> None:
    """Add a rating table."""
    head = rating_head(rdb.comments)
    offsets = head.offsets or (0.0,)
    odd = bad_head_lines(rdb.comments)
    if odd:
        found_words = f"its breakpoints or offsets are no numbers ({quoted(', '.join(odd))})"
        parts.fault(file, found_words, "Fetch the rating again")
        return
    for line in rdb.comments:
        if (found := _EXPANSION.search(line)) and found[1].strip().lower() == "linear":
            parts.notes.append(
                f"gauge file {file}: made for straight lines between points; drawn by logarithms."
            )
    if len(offsets) != len(head.breakpoints) + 1:
        found_words = f"it has {len(head.breakpoints)} breakpoints and {len(head.offsets)} offsets"
        parts.fault(file, found_words, "It should have one offset more: fetch it again")
        return
    stage, flow = numbers(rdb.columns["INDEP"]), numbers(rdb.columns["DEP"])
    good = np.isfinite(stage) & np.isfinite(flow)
    stage, flow = to_si(stage[good], "ft"), to_si(flow[good], "cfs")
    order = np.argsort(stage, kind="stable")
    stage, flow = stage[order], flow[order]
    wrong = rating_fault(stage, flow)
    if wrong is not None:
        parts.fault(file, wrong, "Fetch the rating again")
        return
    breaks = [to_si(value, "ft") for value in head.breakpoints]
    segments = segments_of(stage, flow, breaks, [to_si(value, "ft") for value in offsets])
    shifted = "SHIFT" in rdb.columns
    shift = None if shifted else shift_of_comments(rdb.comments)
    parts.ratings.append(RatingFile(file, segments, shifted, shift))


def rating_fault(stage: FloatArray, flow: FloatArray) -> str | None:
    """Return what is wrong with a rating's points, None where nothing is."""
    if stage.size < 2:
        return "its rating has fewer than two points"
    if (flow < 0).any():
        return "its rating has a flow below zero"
    if (np.diff(stage) <= 0).any():
        return "its rating has a stage twice"
    if (np.diff(flow) < 0).any():
        at = int(np.argmax(np.diff(flow) < 0))
        return f"its rating's flow falls as the stage rises, at its point {at + 2}"
    return None


def _read_series(file: str, rdb: Rdb, zone: str, parts: Parts) -> None:
    """Add the records of flow and stage."""
    sites = {site.strip() for site in set(rdb.columns.get("site_no", ()))} - {""}
    if len(sites) > 1:
        fix = "Keep the one gauge that speaks for the reach"
        parts.fault(file, f"it holds {len(sites)} gauges ({', '.join(sorted(sites)[:5])})", fix)
        return
    taken: set[tuple[Held, bool]] = set()
    for name, cells in rdb.columns.items():
        match = _COLUMN.fullmatch(name)
        if match is None or (match[2] and match[2] != DAILY_MEAN):
            continue
        held, unit = PARAMETERS[match[1]]
        daily = bool(match[2])
        if (held, daily) in taken:
            parts.notes.append(f"gauge file {file}: a second column of {held} is not read.")
            continue
        taken.add((held, daily))
        times = _times(rdb, zone, daily=daily)
        lost = int(np.isnat(times).sum())
        if lost:
            parts.notes.append(f"gauge file {file}: {lost} times make no sense and are left out.")
        parts.series.append(Series(file, held, times, to_si(numbers(cells), unit), daily))
    if not taken:
        names = ", ".join(list(rdb.columns)[:8])
        fix = "Fetch discharge (00060) or gauge height (00065)"
        parts.fault(file, f"it holds neither flow nor stage ({quoted(names)})", fix)


def _times(rdb: Rdb, zone: str, *, daily: bool) -> Times:
    """Return the times of a record as UTC."""
    texts = rdb.columns["datetime"]
    if daily:
        return noon_of_days(texts, zone)
    if "tz_cd" in rdb.columns:
        return utc_from_codes(texts, rdb.columns["tz_cd"])
    return utc_from_texts(texts, zone)


def _is_format(row: Sequence[str]) -> bool:
    """Return whether a row is one of formats such as 5s, 20d, 14n."""
    if not _FORMAT_CELL.fullmatch(row[0].strip()):
        return False
    return all(_FORMAT_CELL.fullmatch(cell.strip()) for cell in row if cell.strip())
