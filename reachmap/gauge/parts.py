"""Contents of the gauge files, file by file, before they are merged into one gauge."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from enum import StrEnum
from typing import TypeAlias

import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.gauge.model import Measured, RatingSegment, RatingShift

Times: TypeAlias = np.ndarray[tuple[int], np.dtype[np.datetime64]]
"""UTC instants, datetime64[s]."""


class Held(StrEnum):
    """Quantity of a series."""

    FLOW = "flow"
    STAGE = "stage"


@dataclass(frozen=True, slots=True)
class RatingFile:
    """A rating with the file it came from; `shifted` where its stages include the shift."""

    file: str
    segments: tuple[RatingSegment, ...]
    shifted: bool = False
    shift: RatingShift | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """Readings in time: flow [m3/s] or stage [m], NaN where the record has none.

    `daily` marks daily means, timed at noon of their day.
    """

    file: str
    held: Held
    times: Times
    values: FloatArray
    daily: bool = False


@dataclass(slots=True)
class Parts:
    """Everything found in the gauge files, with faults and notes.

    `forecast`: take the forecast, not the readings, of files that hold both.
    """

    name: str = ""
    forecast: bool = False
    ratings: list[RatingFile] = field(default_factory=list)
    series: list[Series] = field(default_factory=list)
    measured: list[Measured] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def fault(self, file: str, found: str, fix: str) -> None:
        """Note a fault of a file."""
        self.faults.append(Fault(f"gauge file {file}", found, fix))


UNIT_SPELLINGS = {
    "ft": "ft",
    "feet": "ft",
    "m": "m",
    "cm": "cm",
    "metres": "m",
    "meters": "m",
    "cfs": "cfs",
    "ft3/s": "cfs",
    "ft^3/s": "cfs",
    "ft3s": "cfs",
    "[ft_i]": "ft",
    "[cft_i]/s": "cfs",
    "ft3.s-1": "cfs",
    "m3.s-1": "m3/s",
    "m3/s": "m3/s",
    "m3s": "m3/s",
    "m^3/s": "m3/s",
    "cms": "m3/s",
    "m³/s": "m3/s",
    "ft³/s": "cfs",
    "kcfs": "kcfs",
    "1000 cfs": "kcfs",
    "cumecs": "m3/s",
    "m3 s-1": "m3/s",
    "m^3 s^-1": "m3/s",
    "m3 s^-1": "m3/s",
    "m³ s⁻¹": "m3/s",
    "m3_s": "m3/s",
    "ft3 s-1": "cfs",
    "cu ft/s": "cfs",
    "l/s": "l/s",
    "mm": "mm",
}
"""Units as gauge files write them, the bracketed ones by the code that WaterML uses."""

FLOW_UNITS = frozenset({"cfs", "kcfs", "m3/s", "l/s"})
STAGE_UNITS = frozenset({"ft", "m", "cm", "mm"})
"""Units of flow, and of gauge height, that are read."""

HOURS_OF_ZONE: Mapping[str, float] = {
    "UTC": 0, "GMT": 0, "Z": 0,
    "NST": -3.5, "NDT": -2.5, "AST": -4, "ADT": -3,
    "EST": -5, "EDT": -4, "CST": -6, "CDT": -5, "MST": -7, "MDT": -6, "PST": -8, "PDT": -7,
    "AKST": -9, "AKDT": -8, "HST": -10, "HDT": -9, "SST": -11, "CHST": 10, "GST": 10,
}  # fmt: skip
"""Offset from UTC of the time zone codes (tz_cd) of RDB files [h]; from memory."""


NUMBER = r"[-+]?(?:\d{1,30}\.?\d{0,30}|\.\d{1,30})(?:[eE][-+]?\d{1,3})?"
"""A number in a comment, as a pattern: digits, a point, an exponent."""

LOWEST_NUMBER = -99_999.0
"""Numbers at or below this mark missing values (-999999), from memory."""


def numbers(cells: Sequence[object]) -> FloatArray:
    """Return cells as numbers; NaN for empty ones, words such as Ice or Eqp, and missing values."""
    found = pd.to_numeric(pd.Series(list(cells), dtype="object"), errors="coerce")
    values = found.to_numpy(dtype=np.float64)
    return np.where(np.isfinite(values) & (values > LOWEST_NUMBER), values, np.nan)


def utc_from_codes(texts: Sequence[str], codes: Sequence[str]) -> Times:
    """Return local times with their zone's code as UTC; NaT where either cannot be read."""
    local = pd.to_datetime(
        pd.Series(list(texts), dtype="object"), errors="coerce", format="ISO8601"
    )
    known = {code: HOURS_OF_ZONE.get(code.strip().upper(), np.nan) for code in set(codes)}
    hours = pd.Series(list(codes), dtype="object").map(known).astype("float64")
    return _seconds(local - pd.to_timedelta(hours, unit="h"))


def utc_or_noon(texts: Sequence[str], zone: str) -> tuple[Times, bool]:
    """Return times as UTC, and whether they are dates without a time, which are set to noon."""
    if all(len(text.strip()) == DATE_LENGTH for text in texts):
        return noon_of_days(texts, zone), True
    return utc_from_texts(texts, zone), False


_OFFSET = re.compile(r"(?:[+-]\d{2}:?\d{2}|Z)\s*$")

DATE_LENGTH = len("2001-12-24")


def utc_from_texts(texts: Sequence[str], zone: str) -> Times:
    """Return times as UTC; NaT where a text is no time.

    Parameters
    ----------
    texts
        ISO 8601, with an offset or "Z", or local to `zone`.
    zone
        Name of the zone of times without an offset, such as "America/Vancouver"; "" for UTC. The
        hour repeated at the end of summer time is resolved by the order of the readings where
        possible; otherwise, like the hour skipped at its beginning, it is NaT.
    """
    given = pd.Series([text.strip() for text in texts], dtype="object")
    dated = pd.Series(is_dated(texts), dtype=bool)
    times = pd.Series(pd.NaT, index=given.index, dtype="datetime64[ns, UTC]")
    if dated.any():
        times[dated] = pd.to_datetime(given[dated], errors="coerce", format="ISO8601", utc=True)
    if (~dated).any():
        plain = pd.to_datetime(given[~dated], errors="coerce", format="ISO8601")
        times[~dated] = _localised(plain, zone or "UTC")
    return _seconds(times.dt.tz_localize(None))


def is_dated(texts: Sequence[str]) -> list[bool]:
    """Return for each text whether it ends in "Z" or an offset from UTC."""
    return [text.endswith("Z") or _OFFSET.search(text) is not None for text in texts]


def noon_of_days(texts: Sequence[str], zone: str) -> Times:
    """Return noon of each day as UTC, in a zone ("" for UTC); NaT where a text is no date."""
    days = pd.to_datetime(pd.Series(list(texts)).str[:10], errors="coerce", format="%Y-%m-%d")
    noon = days + timedelta(hours=12)
    return _seconds(_localised(noon, zone or "UTC").dt.tz_localize(None))


def _localised(plain: pd.Series[pd.Timestamp], zone: str) -> pd.Series[pd.Timestamp]:
    """Return local times as UTC."""
    try:
        local = plain.dt.tz_localize(zone, ambiguous="infer", nonexistent="NaT")
    except ValueError:
        local = plain.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    return local.dt.tz_convert("UTC")


def _seconds(times: pd.Series[pd.Timestamp]) -> Times:
    """Return times as datetime64[s]."""
    return times.to_numpy(dtype="datetime64[s]")
