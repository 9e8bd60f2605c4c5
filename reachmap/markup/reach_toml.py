"""Reading values out of reach.toml, with every fault noted and its line named."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from reachmap.base.errors import Fault
from reachmap.base.quoting import one_of, quoted
from reachmap.base.words import UnitSystem, Word
from reachmap.markup.files import REACH_FILE
from reachmap.markup.layers import Quantity
from reachmap.markup.quantities import between, number_within, unit_of

W = TypeVar("W", bound=Word)

_HEAD = re.compile(r"^\s*\[{1,2}\s*([\w.-]+)\s*\]{1,2}")
_KEY = re.compile(r"^\s*([\w-]+)\s*=")


@dataclass(slots=True)
class Book:
    """A parsed reach.toml with its faults and what was assumed; gathers, never raises."""

    told: Mapping[str, Any]
    lines: Mapping[tuple[str, int, str], int]
    units: UnitSystem = UnitSystem.US
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def top(self) -> Section:
        """Return the keys that stand before any section."""
        plain = {key: value for key, value in self.told.items() if not _is_section(value)}
        return Section(self, "", 0, plain)

    def section(self, name: str) -> Section:
        """Return a section; an empty one where it is missing or not a section."""
        given = self.told.get(name, {})
        if not isinstance(given, dict):
            fix = f"Write it as a section: a line [{name}], its values below"
            self.faults.append(Fault(self.where("", 0, name), f"{name} is not a section", fix))
            given = {}
        return Section(self, name, 0, given)

    def sections(self, name: str) -> list[Section]:
        """Return repeated sections such as [[rod]]."""
        given = self.told.get(name, [])
        if not isinstance(given, list) or not all(isinstance(item, dict) for item in given):
            fix = f"Write [[{name}]] with two brackets on each side, once for each"
            self.faults.append(Fault(self.where(name, 0, ""), f"{name} is not a list", fix))
            return []
        return [Section(self, name, index, item) for index, item in enumerate(given)]

    def where(self, section: str, index: int, key: str) -> str:
        """Return where a value stands, for a message."""
        parts = [REACH_FILE]
        line = self.lines.get((section, index, key)) or self.lines.get((section, index, ""))
        if line is not None:
            parts.append(f"line {line}")
        if section:
            parts.append(f"[{section}] {key}".strip())
        elif key:
            parts.append(key)
        return ", ".join(parts)


@dataclass(slots=True)
class Section:
    """One section of reach.toml; remembers which keys were asked for, so that others show."""

    book: Book
    name: str
    index: int
    told: Mapping[str, Any]
    asked: set[str] = field(default_factory=set)

    def fault(self, key: str, found: str, fix: str) -> None:
        """Note a fault of a key."""
        self.book.faults.append(Fault(self.book.where(self.name, self.index, key), found, fix))

    def has(self, key: str) -> bool:
        """Return whether a key is given."""
        self.asked.add(key)
        return key in self.told

    def text(self, key: str, default: str = "") -> str:
        """Return a text."""
        if not self.has(key):
            return default
        value = self.told[key]
        if isinstance(value, str):
            return value
        self.fault(key, f"{quoted(value)} is not text", 'Put it between quotes, like "this"')
        return default

    def texts(self, key: str, default: tuple[str, ...]) -> tuple[str, ...]:
        """Return a text or a list of texts."""
        if not self.has(key):
            return default
        value = self.told[key]
        given = [value] if isinstance(value, str) else value
        if isinstance(given, list) and given and all(isinstance(item, str) for item in given):
            return tuple(given)
        self.fault(key, f"{quoted(value)} is not a list of texts", 'Write it like ["one", "two"]')
        return default

    def word(self, key: str, words: type[W], default: W) -> W:
        """Return one of a set of words."""
        value = self.text(key, str(default))
        try:
            return words(value.strip().lower())
        except ValueError:
            self.fault(key, f"{quoted(value)} is not known", one_of(value, [str(w) for w in words]))
            return default

    def choice(self, key: str, choices: Sequence[str], default: str) -> str:
        """Return one of some plain words."""
        value = self.text(key, default)
        if value.strip().lower() in choices:
            return value.strip().lower()
        self.fault(key, f"{quoted(value)} is not known", one_of(value, choices))
        return default

    def number(
        self, key: str, quantity: Quantity, limits: tuple[float, float], default: float = math.nan
    ) -> float:
        """Return a number [SI] within limits [SI]; `default` where it is missing or at fault."""
        if not self.has(key):
            return default
        value = self.one_number(key, self.told[key], quantity, limits)
        return default if math.isnan(value) else value

    def one_number(
        self, key: str, value: object, quantity: Quantity, limits: tuple[float, float]
    ) -> float:
        """Return a value as a number [SI] within limits; NaN, with a fault noted, if it is not."""
        number, wrong = number_within(value, quantity, self.book.units, limits)
        if wrong is None and math.isnan(number):
            allowed = between(*limits, unit_of(quantity, self.book.units))
            wrong = f"{quoted(value)} is not a number", f"Give {allowed}"
        if wrong is not None:
            self.fault(key, *wrong)
        return number

    def ratio(self, key: str, limits: tuple[float, float]) -> float:
        """Return a number without a unit; NaN where it is missing or at fault."""
        if not self.has(key):
            return math.nan
        value = self.told[key]
        low, high = limits
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fault(key, f"{quoted(value)} is not a number", f"Give {low:g} to {high:g}")
            return math.nan
        if not low <= value <= high:
            self.fault(key, f"{quoted(value)} is out of range", f"Wants {low:g} to {high:g}")
            return math.nan
        return float(value)

    def done(self, elsewhere: Sequence[str] = ()) -> None:
        """Note every key that nobody asked for, but those that are looked at elsewhere."""
        for key in self.told:
            if key not in self.asked and key not in elsewhere:
                self.fault(key, f"{quoted(key)} is not a key here", one_of(key, sorted(self.asked)))


def open_book(text: str) -> Book:
    """Return reach.toml parsed; a Book of nothing but its fault where it is not TOML."""
    try:
        told = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers or lists beyond all measure
        found = f"it is not valid TOML: {str(error)[:200]}"
        fix = (
            'Mend that place: text wants quotes ("like this"), numbers none, and no commas in them'
        )
        return Book({}, {}, faults=[Fault(REACH_FILE, found, fix)])
    return Book(told, _lines_of(text))


def _is_section(value: object) -> bool:
    """Return whether a top-level value is a section or a list of sections."""
    if isinstance(value, list):
        return bool(value) and all(isinstance(item, dict) for item in value)
    return isinstance(value, dict)


def _lines_of(text: str) -> dict[tuple[str, int, str], int]:
    """Return the line of each section ("" as key) and key, by section, its count and key."""
    lines: dict[tuple[str, int, str], int] = {}
    counts: dict[str, int] = {}
    section, index = "", 0
    for number, line in enumerate(text.splitlines(), start=1):
        if head := _HEAD.match(line):
            section = head[1]
            index = counts.get(section, 0)
            counts[section] = index + 1
            lines[section, index, ""] = number
        elif key := _KEY.match(line):
            lines.setdefault((section, index, key[1]), number)
    return lines
