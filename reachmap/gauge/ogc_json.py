"""OGC API JSON of the US Geological Survey: a FeatureCollection of readings.

Collections continuous, daily, latest-continuous and field-measurements; each feature one value, as
text, with its unit. Facts of the format: docs/sources.md, "Gauge files".
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from reachmap.base.quoting import quoted
from reachmap.base.units import to_si
from reachmap.gauge.measurements import measured_of_features
from reachmap.gauge.parts import (
    FLOW_UNITS,
    STAGE_UNITS,
    UNIT_SPELLINGS,
    Held,
    Parts,
    Series,
    numbers,
    utc_or_noon,
)

PARAMETERS = {"00060": Held.FLOW, "00065": Held.STAGE}
"""Codes of the parameters that are read."""

KINDS = {Held.FLOW: FLOW_UNITS, Held.STAGE: STAGE_UNITS}
"""Units that fit each."""

DAILY_MEAN = "00003"
INSTANT = "00011"

FETCH = "Fetch continuous, daily or field-measurements of 00060 (discharge) or 00065 (gauge height)"


def read_json(file: str, text: str, zone: str, parts: Parts) -> None:
    """Add what a JSON file holds to `parts`."""
    try:
        collection = json.loads(text)
    except (ValueError, RecursionError):
        parts.fault(file, "it is not whole JSON", "Fetch it again")
        return
    features = collection.get("features") if isinstance(collection, dict) else None
    if not isinstance(features, list):
        parts.fault(file, "it is not a collection of readings", FETCH)
        return
    rows: list[Mapping[str, Any]] = [
        each["properties"]
        for each in features
        if isinstance(each, dict) and isinstance(each.get("properties"), dict)
    ]
    places = sorted(
        {str(row["monitoring_location_id"]) for row in rows if "monitoring_location_id" in row}
    )
    if len(places) > 1:
        fix = "Keep the one gauge that speaks for the reach"
        parts.fault(file, f"it holds {len(places)} gauges ({', '.join(places[:5])})", fix)
        return
    parts.name = parts.name or next(iter(places), "")
    if any("field_visit_id" in row for row in rows):
        measured = measured_of_features(rows, zone)
        if measured is None:
            parts.notes.append(f"gauge file {file}: no visit of it has both stage and flow.")
        else:
            parts.measured.append(measured)
        return
    if not _series(file, rows, zone, parts):
        parts.fault(file, f"it holds neither flow nor stage ({_held(rows)})", FETCH)


def _series(file: str, rows: Sequence[Mapping[str, Any]], zone: str, parts: Parts) -> bool:
    """Add the records of flow and stage; return whether there was one."""
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for row in rows:
        code, statistic = (
            str(row.get("parameter_code", "")),
            str(row.get("statistic_id") or INSTANT),
        )
        if code in PARAMETERS and statistic in {DAILY_MEAN, INSTANT}:
            groups.setdefault((code, statistic), []).append(row)
    for (code, _), group in groups.items():
        held = PARAMETERS[code]
        units = {str(row.get("unit_of_measure", "")).lower() for row in group}
        unit = UNIT_SPELLINGS.get(units.pop(), "") if len(units) == 1 else ""
        if unit not in KINDS[held]:
            parts.fault(file, f"the unit of its {held} is not known", "Fetch it again")
            continue
        times, daily = utc_or_noon([str(row.get("time", "")) for row in group], zone)
        lost = int(np.isnat(times).sum())
        if lost:
            parts.notes.append(f"gauge file {file}: {lost} times make no sense and are left out.")
        values = to_si(numbers([row.get("value") for row in group]), unit)
        parts.series.append(Series(file, held, times, values, daily))
    return bool(groups)


def _held(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return the parameters a file holds instead, for a message."""
    codes = sorted({str(row.get("parameter_code", "?")) for row in rows})
    return quoted(", ".join(codes) or "nothing")
