"""Plain CSV: a rating (``stage_ft,flow_cfs``) or a record (``time,flow_cfs``).

A file whose name begins with ``measured`` holds the angler's own discharge measurements instead:
``time,stage_ft,flow_cfs`` and, optionally, ``quality``.

Columns: ``time`` (ISO 8601), ``stage``, ``flow``, ``offset`` (of a rating, the same on each row of
a segment); each with its unit as a suffix, or in the folder's units. Separators: comma, semicolon
or tab.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray
from reachmap.base.quoting import quoted
from reachmap.base.units import FACTORS, FLOW, LENGTH, to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.measurements import measured_rows
from reachmap.gauge.model import RatingSegment
from reachmap.gauge.parts import (
    FLOW_UNITS,
    STAGE_UNITS,
    UNIT_SPELLINGS,
    Held,
    Parts,
    RatingFile,
    Series,
    Times,
    is_dated,
    numbers,
    utc_or_noon,
)
from reachmap.gauge.rdb import rating_fault

COLUMNS = {
    "time": "time",
    "datetime": "time",
    "date": "time",
    "date_time": "time",
    "timestamp": "time",
    "valid_time": "time",
    "validtime": "time",
    "stage": "stage",
    "gauge_height": "stage",
    "gage_height": "stage",
    "water_level": "stage",
    "height": "stage",
    "level": "stage",
    "flow": "flow",
    "discharge": "flow",
    "streamflow": "flow",
    "q": "flow",
    "offset": "offset",
    "quality": "quality",
}
"""Quantity by column name, without its unit."""

PLAIN = frozenset({"time", "quality"})
"""Columns that are text."""

LONGEST_HEAD = 120
"""Longest part of a column's name that is examined [characters] (our choice)."""

MEASURED = "measured"
"""Prefix of the names of files of discharge measurements."""

_HEAD = re.compile(r"\s*([A-Za-z_ ]*?[A-Za-z])(?:[\s_]*[_(\[]\s*([^\s()\[\]]+?)\s*[)\]]?)?\s*")

_IN_BRACKETS = re.compile(
    r"\s*([A-Za-z_ ]*?[A-Za-z])\s*(?:/[^()\[\]]*)?[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*"
)
"""A name, optionally repeated in a second language after a slash, and a unit of several words in
brackets: "Discharge / D\u00e9bit (cms)", "flow (m3 s-1)"."""


def read_csv(file: str, text: str, units: UnitSystem, zone: str, parts: Parts) -> None:
    """Add what a CSV file holds to `parts`."""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if len(lines) < 2:
        parts.fault(file, "it has no rows", "Fill it, or take it out")
        return
    mark = max(",;\t", key=lines[0].count)
    try:
        heads = next(csv.reader(lines[:1], delimiter=mark))
        table = _table(lines[1:], mark, len(heads))
    except (csv.Error, pd.errors.ParserError) as error:
        parts.fault(file, f"its rows make no sense ({quoted(str(error))})", FIX)
        return
    columns: dict[str, Sequence[str]] = {}
    unit_of: dict[str, str] = {}
    for index, head in enumerate(heads):
        name, unit = _column(head, units)
        if name and name not in columns:
            columns[name] = table[index].to_numpy(dtype=object).tolist()
            unit_of[name] = unit
    if wrong := _head_fault(columns, unit_of, units):
        parts.fault(file, f"its columns are {quoted(', '.join(heads))}: {wrong}", FIX)
        return
    if mark == ";":  # with semicolons as separators, commas are decimal points
        columns |= {
            n: tuple(c.replace(",", ".") for c in v) for n, v in columns.items() if n not in PLAIN
        }
    values = {
        name: to_si(numbers(cells), unit_of[name])
        for name, cells in columns.items()
        if name not in PLAIN
    }
    if file.lower().startswith(MEASURED):
        _measured(file, columns, values, zone, parts)
    elif "time" in columns:
        _series(file, columns["time"], values, zone, parts)
    else:
        _rating(file, values, parts)


def _table(lines: Sequence[str], mark: str, width: int) -> pd.DataFrame:
    """Return rows as text, "" for missing cells; cells beyond the header are dropped."""
    if any(line.count(mark) >= width or '"' in line for line in lines):
        # pandas' C parser would drop such rows, or all rows after an unclosed quotation mark
        rows = [
            [*row[:width], *[""] * (width - len(row))] for row in csv.reader(lines, delimiter=mark)
        ]
        return pd.DataFrame(rows, columns=range(width))
    return pd.read_csv(
        io.StringIO("\n".join(lines)),
        sep=mark,
        header=None,
        names=range(width),
        index_col=False,
        dtype=str,
        keep_default_na=False,
    ).fillna("")


FIX = (
    "Name them time, flow_cfs and stage_ft for a record, or stage_ft and flow_cfs for a rating "
    "(metric: flow_m3s, stage_m)"
)


def _column(head: str, units: UnitSystem) -> tuple[str, str]:
    """Return a column's quantity and unit; "" for one that is not read."""
    plain = head.strip().lstrip("\ufeff").lower()[:LONGEST_HEAD]
    name, unit = plain, ""
    if plain not in COLUMNS and (match := _HEAD.fullmatch(plain) or _IN_BRACKETS.fullmatch(plain)):
        name, unit = match[1].strip().replace(" ", "_"), match[2] or ""
        if name not in COLUMNS and "_" in name:
            name, _, front = name.rpartition("_")
            unit = front + unit
    held = COLUMNS.get(name, "")
    if not held or held in PLAIN:
        return held, ""
    usual = FLOW[units] if held == "flow" else LENGTH[units]
    return held, UNIT_SPELLINGS.get(unit, unit) if unit else usual


def _head_fault(
    columns: dict[str, Sequence[str]], unit_of: dict[str, str], units: UnitSystem
) -> str | None:
    """Return what is wrong with the columns, None where nothing is."""
    if "flow" not in columns and not {"time", "stage"} <= columns.keys():
        return "neither a rating nor a record"
    if "time" not in columns and "stage" not in columns:
        return "neither a time nor a stage goes with the flow"
    for name, unit in unit_of.items():
        usual = FLOW[units] if name == "flow" else LENGTH[units]
        kind = FLOW_UNITS if name == "flow" else STAGE_UNITS
        if name not in PLAIN and (unit not in FACTORS or unit not in kind):
            return f"{quoted(unit)} is not a unit of {name} (such as {usual})"
    return None


def _series(
    file: str, texts: Sequence[str], values: dict[str, FloatArray], zone: str, parts: Parts
) -> None:
    """Add the records of flow and stage."""
    times, daily = _times(file, texts, zone, parts)
    if np.isnat(times).all():
        fix = "Write times like 2001-12-24 06:30"
        parts.fault(file, f"its times make no sense ({quoted(texts[0])})", fix)
        return
    for held in Held:
        if held.value in values:
            parts.series.append(Series(file, held, times, values[held.value], daily))


def _times(file: str, texts: Sequence[str], zone: str, parts: Parts) -> tuple[Times, bool]:
    """Return times as UTC and whether they are dates; assumptions are added to the notes."""
    times, daily = utc_or_noon(texts, zone)
    lost = int(np.isnat(times).sum())
    if 0 < lost < times.size:
        parts.notes.append(f"gauge file {file}: {lost} times make no sense and are left out.")
    if not zone and not all(is_dated(texts)):
        parts.notes.append(
            f"gauge file {file}: its times name no zone and are taken as UTC; "
            "set time_zone under [gauge]."
        )
    return times, daily


def _measured(
    file: str,
    columns: dict[str, Sequence[str]],
    values: dict[str, FloatArray],
    zone: str,
    parts: Parts,
) -> None:
    """Add discharge measurements."""
    if not {"time", "stage", "flow"} <= columns.keys():
        fix = "Name its columns time, stage_ft and flow_cfs (metric: stage_m, flow_m3s)"
        parts.fault(file, "measurements need a time, a stage and a flow", fix)
        return
    times, _ = _times(file, columns["time"], zone, parts)
    words = columns.get("quality", ("",) * times.size)
    labels = tuple(str(number) for number in range(1, times.size + 1))
    parts.measured.append(measured_rows(times, values["stage"], values["flow"], words, labels))


def _rating(file: str, values: dict[str, FloatArray], parts: Parts) -> None:
    """Add a rating; rows with the same offset make one segment."""
    stage, flow = values["stage"], values["flow"]
    offset = np.nan_to_num(values.get("offset", np.zeros(stage.shape)))
    good = np.isfinite(stage) & np.isfinite(flow)
    order = np.argsort(stage[good], kind="stable")
    stage, flow, offset = (each[good][order] for each in (stage, flow, offset))
    wrong = rating_fault(stage, flow)
    if wrong is not None:
        parts.fault(file, wrong, "Correct its rows: both stage and flow rise from row to row")
        return
    cuts = [0, *(np.flatnonzero(np.diff(offset)) + 1), stage.size]
    segments = []
    for first, last in pairwise(cuts):
        begin = max(first - 1, 0)  # the gap above a breakpoint follows the upper segment
        segments.append(RatingSegment(stage[begin:last], flow[begin:last], float(offset[first])))
    parts.ratings.append(RatingFile(file, tuple(segments)))
