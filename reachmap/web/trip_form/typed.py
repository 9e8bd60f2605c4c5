"""Validation of the form: typed text to a log entry, or a fault for each field."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

from reachmap.base.units import FACTORS, FLOW, LENGTH, SPEED, from_si, to_celsius
from reachmap.base.words import UnitSystem
from reachmap.logbook.clock import KnownTimes, date_question
from reachmap.logbook.model import RANGES, TEXT_LONGEST, UNMEASURED, Entry, Seen, SeenKind, new_id

TEXTS = ("run", "swung", "photo", "note")
COUNTS = ("touches", "landed", "released")
SEEN = ("seen_kind", "seen_value", "seen_seconds", "seen_place", "seen_note")
"""Fields of one thing seen; each comes once a row."""

SURE = "sure"
"""Field that answers the question whether a day is right: "yes" or nothing."""

SEEN_MOST = 200
"""Most things seen in one entry (our choice)."""

FASTEST, DEEPEST = 12.0, 50.0
"""Fastest stick [m/s] and deepest sounding [m] that are believed; our choice."""

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")
_GROUPED = re.compile(r"\d{1,3}(,\d{3})+(\.\d*)?")
_PLACE = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*[,;\s]\s*([+-]?\d+(?:\.\d+)?)\s*")
_WITH_UNIT = re.compile(r"\s*([\d.,]+)\s*(cfs|m3/s|m\u00b3/s)?\s*", re.IGNORECASE)

FormFields = Mapping[str, Sequence[str]]
"""Fields as sent: each name with its values, in order."""


class TypedError(Exception):
    """What was typed is no entry; `faults` says why, by field, every one at once."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        """Keep the faults."""
        self.faults = dict(faults)
        super().__init__("; ".join(f"{name}: {words}" for name, words in self.faults.items()))


@dataclass(frozen=True, slots=True)
class Around:
    """What an entry is read with: the folder's units, the clock and its zone, the gauge's record.

    `flow_at` gives the flow [m3/s] at a time, NaN where the record does not know. `known` holds the
    folder's times, which the clock is compared with; `kept` is when the entry began that is being
    changed: of that moment nothing is asked again.
    """

    units: UnitSystem
    now: datetime
    flow_at: Callable[[datetime], float]
    known: KnownTimes = field(default_factory=KnownTimes)
    kept: datetime | None = None


@dataclass(slots=True)
class _Reader:
    """Reads fields one by one and keeps what is wrong with each."""

    sent: FormFields
    units: UnitSystem
    faults: dict[str, str] = field(default_factory=dict)

    def text(self, name: str, index: int = 0) -> str:
        """Return a field's text without blanks around it."""
        values = self.sent.get(name, ())
        text = values[index].strip() if index < len(values) else ""
        if len(text) > TEXT_LONGEST:
            self.faults[name] = f"too long: at most {TEXT_LONGEST} signs"
            return ""
        return text.replace("\r\n", "\n").replace("\x00", "")

    def number(self, name: str, text: str, unit: str = "") -> float:
        """Return a number in SI; NaN where nothing was typed or it is none."""
        if not text:
            return math.nan
        value = number_of(text)
        if math.isnan(value):
            self.faults[name] = f"{text[:40]!r} is not a number"
        return value * FACTORS[unit] if unit else value

    def in_range(self, name: str, value: float, key: str, unit: str = "") -> float:
        """Return a value [SI] if it is in range; the fault tells the range in `unit`."""
        low, high = RANGES[key]
        if math.isnan(value) or low <= value <= high:
            return value
        limits = [f"{from_si(bound, unit) if unit else bound:.6g}" for bound in (low, high)]
        self.faults[name] = f"wants {limits[0]} to {limits[1]}{' ' + unit if unit else ''}"
        return math.nan

    def measured(self, name: str, key: str, unit: str = "") -> float:
        """Return a field's number in SI, within its range."""
        return self.in_range(name, self.number(name, self.text(name), unit), key, unit)


def read_entry(sent: FormFields, around: Around) -> Entry:
    """Return the entry that was typed.

    Parameters
    ----------
    sent
        Fields as sent.
    around
        What it is read with.

    Raises
    ------
    TypedError
        With every fault, by field.
    """
    reader = _Reader(sent, around.units)
    when = _when(reader, around)
    flow, flow_from = _flow(reader, when, around)
    counts = {name: _count(reader, name) for name in COUNTS}
    if counts["released"] > counts["landed"] and not reader.faults.keys() & set(COUNTS):
        reader.faults["released"] = f"more than landed, which is {counts['landed']}"
    x, y = _place(reader, "place", reader.text("place"))
    clarity = reader.measured("clarity", "clarity_m", LENGTH[around.units])
    water = _water(reader)
    minutes = reader.measured("minutes", "minutes")
    texts = {name: reader.text(name) for name in TEXTS}
    seen = _all_seen(reader)
    if reader.faults or when is None:
        raise TypedError(reader.faults)
    return Entry(
        when=when,
        run=texts["run"],
        flow=flow,
        flow_from=flow_from,
        clarity_m=clarity,
        water_c=water,
        minutes=minutes,
        swung=texts["swung"],
        touches=counts["touches"],
        landed=counts["landed"],
        released=counts["released"],
        x=x,
        y=y,
        photo=texts["photo"],
        note=texts["note"],
        seen=seen,
        uid=_uid(reader.text("uid")) or new_id(),
    )


def number_of(text: str) -> float:
    """Return a typed number; NaN where it is none.

    Commas part thousands where they stand so (2,400), else they are decimal (1,5).
    """
    plain = text.strip()
    if _GROUPED.fullmatch(plain):
        return float(plain.replace(",", ""))
    return float(plain.replace(",", ".")) if _NUMBER.fullmatch(plain) else math.nan


def typed_moment(date: str, time: str, zone: str, now: datetime) -> datetime:
    """Return a typed day and time in a zone, that of the clock where none is named.

    Raises
    ------
    ValueError
        If there is no such moment; the message says why.
    """
    try:
        plain = datetime.fromisoformat(f"{date}T{time or '00:00'}")
    except ValueError:
        msg = f"{date} {time} is not a time; like 2031-01-05 and 08:30"
        raise ValueError(msg) from None
    when = plain if plain.tzinfo else plain.replace(tzinfo=_zone(zone, now))
    plain = when.replace(tzinfo=None)
    if when.astimezone(UTC).astimezone(when.tzinfo).replace(tzinfo=None) != plain:
        msg = "summer time skips this hour"
        raise ValueError(msg)
    return when


def _zone(name: str, now: datetime) -> tzinfo | None:
    """Return a time zone by its name; the clock's where it has none that is known here."""
    try:
        return ZoneInfo(name) if name else now.tzinfo
    except (KeyError, ValueError, OSError):
        return now.tzinfo


def _when(reader: _Reader, around: Around) -> datetime | None:
    """Return the begin, None with a fault where it makes no sense."""
    date, time, zone = (reader.text(name) for name in ("date", "time", "zone"))
    if not date:
        reader.faults["date"] = "say the day"
        return None
    try:
        when = typed_moment(date, time, zone, around.now)
    except ValueError as error:
        reader.faults["date"] = str(error)
        return None
    question = "" if when == around.kept else date_question(when, around.now, around.known)
    if question and reader.text(SURE) != "yes":
        reader.faults[SURE] = question
    return when


def _flow(reader: _Reader, when: datetime | None, around: Around) -> tuple[float, str]:
    """Return the flow [m3/s] and where it is from: typed, or the gauge's record at that time."""
    text = reader.text("flow")
    if not text:
        flow = math.nan if when is None else around.flow_at(when)
        return flow, "" if math.isnan(flow) else "gauge"
    match = _WITH_UNIT.fullmatch(text)
    unit = ((match[2] if match else "") or FLOW[around.units]).lower().replace("\u00b3", "3")
    value = number_of(match[1]) * FACTORS[unit] if match else math.nan
    if math.isnan(value):
        reader.faults["flow"] = f"{text[:40]!r} is not a flow; like 2400, or 68 m3/s"
    elif value == 0:
        reader.faults["flow"] = "wants more than 0; leave it empty where you do not know"
    else:
        value = reader.in_range("flow", value, "flow", FLOW[around.units])
    return value, "typed"


def _count(reader: _Reader, name: str) -> int:
    """Return a count; 0 where nothing was typed."""
    text = reader.text(name)
    if not text:
        return 0
    if not re.fullmatch(r"\d{1,4}", text) or int(text) > RANGES[name][1]:
        reader.faults[name] = f"wants a whole number, 0 to {RANGES[name][1]:g}"
        return 0
    return int(text)


def _water(reader: _Reader) -> float:
    """Return the water's temperature [C]."""
    typed = reader.number("water", reader.text("water"))
    value = to_celsius(typed, reader.units)
    low, high = RANGES["water_c"]
    if not math.isnan(value) and not low <= value <= high:
        reader.faults["water"] = "no river is so cold or so warm"
        return math.nan
    return value


def _place(reader: _Reader, name: str, text: str) -> tuple[float, float]:
    """Return longitude and latitude of a typed "latitude, longitude"; NaN where there is none."""
    if not text:
        return math.nan, math.nan
    match = _PLACE.fullmatch(text)
    latitude, longitude = (float(match[1]), float(match[2])) if match else (math.nan, math.nan)
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        reader.faults[name] = "wants latitude, longitude in degrees, like 46.2000, -141.3000"
        return math.nan, math.nan
    return longitude, latitude


def _all_seen(reader: _Reader) -> tuple[Seen, ...]:
    """Return what was seen and measured; rows that say nothing are left out."""
    number = min(max((len(reader.sent.get(name, ())) for name in SEEN), default=0), SEEN_MOST)
    found = [_seen(reader, index) for index in range(number)]
    return tuple(one for one in found if one is not None)


def _seen(reader: _Reader, index: int) -> Seen | None:
    """Return one row of what was seen; None where it is empty or, with a fault, makes no sense."""
    kind, value, seconds, place, note = (reader.text(name, index) for name in SEEN)
    if not (value or seconds or place or note):
        return None
    here = f"seen_{index}"
    if kind not in list(SeenKind):
        reader.faults[here] = "say what it is: an edge, a depth, a speed or a holding place"
        return None
    x, y = _place(reader, here, place)
    if math.isnan(x) and here not in reader.faults:
        reader.faults[here] = "say where: without its place it tells the map nothing"
    amount = math.nan
    if kind not in UNMEASURED and here not in reader.faults:
        amount = _amount(reader, here, SeenKind(kind), (value, seconds))
    if here in reader.faults:
        return None
    return Seen(SeenKind(kind), x, y, amount, note)


def _amount(reader: _Reader, here: str, kind: SeenKind, typed: tuple[str, str]) -> float:
    """Return a depth [m], or the speed of a stick [m/s]: how far it went over how long it took."""
    unit = LENGTH[reader.units]
    value = reader.number(here, typed[0], unit)
    if kind is SeenKind.SPEED:
        seconds = reader.number(here, typed[1])
        if not (value > 0 and seconds > 0):
            reader.faults.setdefault(here, f"say how far the stick went ({unit}) and the seconds")
            return math.nan
        speed = value / seconds
        if speed > FASTEST:
            typed_speed = f"{from_si(speed, SPEED[reader.units]):.0f} {SPEED[reader.units]}"
            reader.faults[here] = f"{typed_speed} is faster than rivers run"
        return speed
    if not 0 <= value <= DEEPEST:
        deepest = f"{from_si(DEEPEST, unit):.0f} {unit}"
        reader.faults.setdefault(here, f"say how deep: 0 to {deepest}")
    return value


def _uid(text: str) -> str:
    """Return an id that a page was given; "" for any other text."""
    return text if re.fullmatch(r"[0-9A-Za-z.-]{8,80}", text) else ""
