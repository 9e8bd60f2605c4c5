"""Rows of a file as log entries; with any fault, all faults are listed and no row is kept."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from reachmap.base.errors import Fault, FaultsError
from reachmap.logbook.model import Entry, Seen, SeenKind

T = TypeVar("T")

TEXTS = ("run", "flow_from", "swung", "photo", "note")
NUMBERS = {"flow": "flow_m3_s", **{name: name for name in ("clarity_m", "water_c", "minutes")}}
COUNTS = ("touches", "landed", "released")
PLACE = {"x": "longitude", "y": "latitude", "station_m": "station_m"}
MEND = "Mend the row or take it out"

MOST_SEEN = 1000
"""Things seen on one trip, at most; our choice: a day's sounding from a boat."""


LocalTime = Callable[[datetime], datetime]
"""Gives a time without a zone the zone of the place where it was written."""


class RowsError(FaultsError):
    """Rows of a file that cannot be kept."""

    heading = "to put right in the file; nothing was kept"


def entries_of_rows(
    rows: Sequence[tuple[str, Mapping[str, Any]]], local: LocalTime | None = None
) -> list[Entry]:
    """Return rows as entries.

    Parameters
    ----------
    rows
        Where each stands in the file, and its values by column; SI units.
    local
        Zone of times without one; None refuses them.

    Raises
    ------
    RowsError
        Listing everything that is wrong with any row.
    """
    entries: list[Entry] = []
    faults: list[Fault] = []
    for where, values in rows:
        row = _Row(values, local)
        entry = row.entry()
        faults += [Fault(where, found, MEND) for found in row.found]
        entries += [entry] if entry is not None else []
    if faults:
        raise RowsError(faults)
    return entries


class _Row:
    """One row: its values, and the faults met while they were read."""

    def __init__(self, values: Mapping[str, Any], local: LocalTime | None) -> None:
        self.values, self.local = values, local
        self.found: list[str] = []

    def entry(self) -> Entry | None:
        """Return the row as an entry; None with `found` where it cannot be one."""
        when = self._when()
        parts: dict[str, Any] = {name: self._number(key) for name, key in NUMBERS.items()}
        parts |= {name: self._number(key) for name, key in PLACE.items()}
        parts |= {name: self._count(name) for name in COUNTS}
        parts |= {name: str(self.values.get(name) or "") for name in (*TEXTS, "bank")}
        parts |= {"uid": str(self.values.get("uid") or self._own_id()), "seen": self._seen()}
        if when is None:
            return None
        try:
            entry = Entry(when=when, **parts)
        except ValueError as error:
            self.found.append(str(error))
            return None
        return None if self.found else entry

    def _own_id(self) -> str:
        """Return the id of a row that brings none: of its own words, so that it is kept once."""
        words = json.dumps({str(key): str(value) for key, value in self.values.items()})
        return f"row-{hashlib.sha256(words.encode()).hexdigest()[:24]}"

    def _tried(self, name: str, act: Callable[[Any], T], wanted: str) -> T | None:
        """Return a converted value; None, and a fault, where it cannot be converted."""
        value = self.values.get(name)
        try:
            return act(value)
        except (ValueError, TypeError, OverflowError, KeyError, OSError):
            self.found.append(f"{name} is {str(value)[:60]!r}, {wanted}")
            return None

    def _when(self) -> datetime | None:
        """Return the begin, in its zone where one is named."""
        wanted = "not a day and time like 2031-01-05T08:30:00-08:00"
        when = self._tried("when", lambda value: datetime.fromisoformat(str(value)), wanted)
        if when is not None and when.tzinfo is None and self.local is not None:
            try:
                when = self.local(when)
            except (OverflowError, OSError, ValueError):
                self.found.append(f"when is {when.isoformat()}, too far from today")
        if not self.values.get("zone"):
            return when
        zone = self._tried("zone", lambda value: ZoneInfo(str(value)), "not a time zone")
        if when is None or zone is None:
            return when
        try:
            return when.astimezone(zone)
        except OverflowError:
            self.found.append(f"when is {when.isoformat()}, too far from today")
            return None

    def _number(self, name: str) -> float:
        """Return a number, NaN where the cell is empty."""
        if self.values.get(name) in (None, ""):
            return math.nan
        value = self._tried(name, float, "not a number")
        return math.nan if value is None else value

    def _count(self, name: str) -> int:
        """Return a count, 0 where the cell is empty."""
        if self.values.get(name) in (None, ""):
            return 0
        return self._tried(name, _whole, "not a whole number") or 0

    def _seen(self) -> tuple[Seen, ...]:
        """Return what was seen."""
        listed = self.values.get("seen") or []
        try:
            items = json.loads(listed) if isinstance(listed, str) else listed
        except (ValueError, RecursionError):
            items = None
        if not isinstance(items, list) or len(items) > MOST_SEEN:
            self.found.append(f"seen is no list of at most {MOST_SEEN} things seen")
            return ()
        seen = []
        for number, item in enumerate(items, start=1):
            try:
                seen.append(_one_seen(item))
            except (ValueError, KeyError, TypeError, AttributeError, OverflowError) as error:
                reason = f"{error.args[0]!r} is missing" if isinstance(error, KeyError) else error
                self.found.append(f"seen, number {number}: {reason}")
        return tuple(seen)


def _whole(value: Any) -> int:
    """Return a whole number; "2.5" is none."""
    number = float(value)
    if number != int(number):
        msg = "no whole number"
        raise ValueError(msg)
    return int(number)


def _one_seen(values: Mapping[str, Any]) -> Seen:
    """Return one thing seen."""
    value, kinds = values.get("value"), [str(kind) for kind in SeenKind]
    if values["kind"] not in kinds:
        msg = f"kind is {str(values['kind'])[:40]!r}, wants one of {', '.join(kinds)}"
        raise ValueError(msg)
    return Seen(
        kind=SeenKind(str(values["kind"])),
        x=float(values["longitude"]),
        y=float(values["latitude"]),
        value=math.nan if value is None else float(value),
        note=str(values.get("note") or ""),
    )
