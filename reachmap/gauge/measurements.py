"""Discharge measurements (gaugings) at the gauge, to which a rating is fitted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from reachmap.base.units import to_si
from reachmap.gauge.model import Measured
from reachmap.gauge.parts import (
    UNIT_SPELLINGS,
    Times,
    numbers,
    utc_from_codes,
    utc_from_texts,
)

MEASURED_COLUMNS = frozenset({"measurement_nu", "measurement_dt", "gage_height_va", "discharge_va"})
"""Required columns of field measurements."""

QUALITIES = ("good", "fair", "poor")
"""Quality ratings that are kept; any other, excellent apart, counts as unspecified."""


def measured_of(columns: Mapping[str, Sequence[str]], zone: str) -> Measured:
    """Return the measurements of an RDB file of field measurements.

    Parameters
    ----------
    columns
        Its columns: measurement_nu, measurement_dt, gage_height_va [ft], discharge_va [cfs] and,
        where it has them, tz_cd and measured_rating_diff (the measurer's word).
    zone
        Time zone of times whose zone the file does not name.
    """
    texts = columns["measurement_dt"]
    codes = columns.get("tz_cd", ("",) * len(texts))
    coded, plain = utc_from_codes(texts, codes), utc_from_texts(texts, zone)
    times = np.where(np.isnat(coded), plain, coded)
    words = columns.get("measured_rating_diff", ("",) * len(texts))
    return measured_rows(
        times,
        to_si(numbers(columns["gage_height_va"]), "ft"),
        to_si(numbers(columns["discharge_va"]), "cfs"),
        words,
        columns["measurement_nu"],
    )


def measured_of_features(rows: Sequence[Mapping[str, Any]], zone: str) -> Measured | None:
    """Return the measurements among the properties of OGC field-measurements; None where none is.

    Stage and flow are features of their own; those of one visit make one measurement. Where a visit
    holds several, the first stands.
    """
    visits: dict[str, dict[str, Any]] = {}
    for row in rows:
        unit = UNIT_SPELLINGS.get(str(row.get("unit_of_measure", "")).lower(), "")
        held = {"00060": "flow", "00065": "stage"}.get(str(row.get("parameter_code", "")))
        value = numbers([row.get("value")])[0]
        key = str(row.get("field_visit_id") or row.get("time"))
        if held is None or not unit or np.isnan(value):
            continue
        visit = visits.setdefault(key, {"time": _time(row), "word": "", "number": key})
        visit.setdefault(held, to_si(float(value), unit))
        visit["word"] = visit["word"] or str(row.get("measurement_rated") or "")
    whole = [visit for visit in visits.values() if {"flow", "stage"} <= visit.keys()]
    if not whole:
        return None
    return measured_rows(
        utc_from_texts([visit["time"] for visit in whole], zone),
        np.array([visit["stage"] for visit in whole]),
        np.array([visit["flow"] for visit in whole]),
        [visit["word"] for visit in whole],
        [visit["number"] for visit in whole],
    )


def _time(row: Mapping[str, Any]) -> str:
    """Return the time of a feature, which may come in two pieces."""
    day, hour = str(row.get("time", "")), row.get("time_of_day")
    return f"{day}T{hour}" if hour and "T" not in day else day


def measured_rows(
    times: Times, stage: Any, flow: Any, words: Sequence[str], labels: Sequence[str]
) -> Measured:
    """Return complete measurements by time: those with a time, a stage [m] and a flow [m3/s]."""
    good = np.flatnonzero(~np.isnat(times) & np.isfinite(stage) & np.isfinite(flow))
    order = good[np.argsort(times[good], kind="stable")]
    plain = [word.strip().lower() for word in words]
    quality = [{"excellent": "good"}.get(word, word) for word in plain]
    return Measured(
        times[order],
        stage[order],
        flow[order],
        tuple(quality[i] if quality[i] in QUALITIES else "unspecified" for i in order),
        tuple(str(labels[i]) for i in order),
    )


def joined(found: Sequence[Measured]) -> Measured | None:
    """Return the measurements of several files as one; None where there are none."""
    if not any(one.times.size for one in found):
        return None
    return measured_rows(
        np.concatenate([one.times for one in found]),
        np.concatenate([one.stage_m for one in found]),
        np.concatenate([one.flow for one in found]),
        [word for one in found for word in one.quality],
        [label for one in found for label in one.number],
    )
