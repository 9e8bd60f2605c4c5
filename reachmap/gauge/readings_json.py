"""Readings of a measure, as the environment agency of England gives them: JSON and CSV.

JSON: {"items": [{"dateTime", "measure", "value"}]}; CSV: the columns dateTime, measure, value. What
is measured and in which unit stands at the end of the measure's name: ``-flow--...-m3_s``,
``-level-stage-...-mASD`` (metres above the station's own datum). Facts of the format:
docs/sources.md, "Gauge files".
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from reachmap.base.quoting import quoted
from reachmap.gauge.json_values import loaded, mapping, mappings, words
from reachmap.gauge.parts import Held, Parts, Series, numbers, utc_or_noon

ENDINGS = {"m3_s": Held.FLOW, "masd": Held.STAGE, "m": Held.STAGE}
"""Ends of a measure's name that are read; heights above sea level (mAOD) are no gauge heights."""

COLUMNS = ("dateTime", "measure", "value")

FETCH = "Fetch the readings of a measure of flow (m3_s) or of stage (mASD)"


def is_readings(text: str) -> bool:
    """Return whether a text is in this format, JSON or CSV."""
    begin = text.lstrip()[:1]
    if begin == "{":
        return '"items"' in text and '"dateTime"' in text and '"measure"' in text
    head = text.lstrip().partition("\n")[0]
    return begin not in "[<" and set(COLUMNS) <= {one.strip(' "\r') for one in head.split(",")}


def read_readings(file: str, text: str, zone: str, parts: Parts) -> None:
    """Add the records of flow and stage to `parts`."""
    if text.lstrip()[:1] == "{":
        rows = mappings(mapping(loaded(file, text, parts)).get("items"))
    else:
        rows = [dict(row) for row in csv.DictReader(io.StringIO(text.lstrip()))]
    groups: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        groups.setdefault(_measure(row), []).append(row)
    others, found = [], False
    for measure, group in groups.items():
        held = ENDINGS.get(measure.rpartition("-")[2].lower())
        if held is None:
            others.append(measure)
        else:
            found |= _series(file, held, group, zone, parts)
    if not found and not any(file in fault.where for fault in parts.faults):
        held_words = quoted(", ".join(others[:3]) or "nothing")
        parts.fault(file, f"it holds neither flow nor stage ({held_words})", FETCH)


def _measure(row: Mapping[str, Any]) -> str:
    """Return the measure's name of a row: the last part of its URL."""
    measure = row.get("measure")
    return words(mapping(measure).get("@id") or measure).rstrip("/").rpartition("/")[2]


def _series(
    file: str, held: Held, rows: Sequence[Mapping[str, Any]], zone: str, parts: Parts
) -> bool:
    """Add one record; return whether there was one."""
    texts = [words(row.get("dateTime")) or words(row.get("date")) for row in rows]
    times, daily = utc_or_noon(texts, zone)
    values = numbers([row.get("value") for row in rows])
    if np.isnat(times).all() or not np.isfinite(values).any():
        return False
    parts.series.append(Series(file, held, times, values, daily))
    return True
