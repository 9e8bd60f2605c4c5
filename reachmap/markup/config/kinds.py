"""Types of the keys of reach.toml: each kind reads and validates a value.

Pydantic calls `read`; the docs, the commented reach.toml of a new folder and the switch of units
use the same objects.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import KW_ONLY, dataclass
from datetime import date
from typing import Any, LiteralString

from pydantic import ValidationInfo
from pydantic_core import PydanticCustomError, PydanticUseDefault, core_schema

from reachmap.base.quoting import one_of, quoted
from reachmap.base.units import FACTORS
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import Quantity
from reachmap.markup.quantities import between, number_within, unit_of

BLANK = object()
"""Replaces a value at fault when the rest of the file is read again."""


class WrongError(ValueError):
    """A value is at fault; `faults` holds pairs of what was found and how to mend it."""

    def __init__(self, *faults: tuple[str, str]) -> None:
        super().__init__(*faults)
        self.faults = faults


@dataclass(frozen=True)
class Kind:
    """A key of reach.toml.

    Parameters
    ----------
    meaning
        One line for the angler, in the docs and in a new folder's reach.toml.
    example
        TOML literal for a new folder, or one for US and one for metric units; "" shows none.
    left_out
        What holds where the key is left out, for the docs; "": the default, or a fault.
    commented
        Whether a new folder has it as a comment.
    missing
        What is found and how to mend it where a required key is missing; None: it may be.
    blank
        Value of a required key that is missing or at fault.
    """

    meaning: str = ""
    example: str | tuple[str, ...] = ""
    _: KW_ONLY
    left_out: str = ""
    commented: bool = False
    missing: tuple[str, str] | None = None
    blank: Any = math.nan

    def read(self, value: Any, units: UnitSystem) -> Any:
        """Return a TOML value converted [SI]; raise WrongError where it is at fault."""
        raise NotImplementedError

    def limits(self) -> str:
        """Return the permitted values in words, for the docs."""
        return ""

    def shown(self, value: Any) -> str:
        """Return a default as it is written in reach.toml; "" where there is none."""
        return str(value) if value else ""

    def with_units(self, value: Any, units: UnitSystem) -> Any:  # noqa: ARG002
        """Return a TOML value with the unit appended to its plain numbers."""
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        """Let pydantic read a field of this kind."""
        return core_schema.with_info_plain_validator_function(self._validated)

    def _validated(self, value: Any, info: ValidationInfo[dict[str, UnitSystem]]) -> Any:
        """Return the value read; raise a pydantic error that carries its faults, if any."""
        if value is BLANK:
            if self.missing is None:
                raise PydanticUseDefault
            return self.blank
        try:
            return self.read(value, info.context["units"])
        except WrongError as wrong:
            kind: LiteralString = "wrong"
            raise PydanticCustomError(kind, kind, {"faults": wrong.faults}) from None


@dataclass(frozen=True, kw_only=True)
class Number(Kind):
    """A number within limits [SI]: a plain one without a unit where `quantity` is None.

    `unit` is the one in which the docs show the default.
    """

    low: float
    high: float
    quantity: Quantity | None = Quantity.LENGTH
    unit: str = ""

    def read(self, value: Any, units: UnitSystem) -> float:
        """Return the number [SI]."""
        if self.quantity is None:
            return self._plain(value)
        number, wrong = number_within(value, self.quantity, units, (self.low, self.high))
        if wrong is None and math.isnan(number):
            allowed = between(self.low, self.high, unit_of(self.quantity, units))
            wrong = f"{quoted(value)} is not a number", f"Give {allowed}"
        if wrong is not None:
            raise WrongError(wrong)
        return number

    def _plain(self, value: Any) -> float:
        """Return a number without a unit."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise WrongError((f"{quoted(value)} is not a number", f"Give {self.limits()}"))
        if not self.low <= value <= self.high:
            raise WrongError((f"{quoted(value)} is out of range", f"Wants {self.limits()}"))
        return float(value)

    def limits(self) -> str:
        """Return the limits [SI]."""
        unit = f" {unit_of(self.quantity, UnitSystem.METRIC)}" if self.quantity else ""
        size = FACTORS[unit.strip()] if unit else 1.0
        return f"{self.low / size:g} to {self.high / size:g}{unit}"

    def shown(self, value: Any) -> str:
        """Return a default in its own unit."""
        if not math.isfinite(value):
            return ""
        return f'"{value / FACTORS[self.unit]:.4g} {self.unit}"' if self.unit else f"{value:.4g}"

    def with_units(self, value: Any, units: UnitSystem) -> Any:
        """Return a plain number as text with its unit; anything else, and 0, as it is."""
        plain = isinstance(value, (int, float)) and not isinstance(value, bool)
        if self.quantity is None or not plain or value == 0:
            return value
        return f"{value:.12g} {unit_of(self.quantity, units)}"


@dataclass(frozen=True, kw_only=True)
class Whole(Kind):
    """A whole number; anything else is `wrong`, a text with {} for the value, mended by `fix`."""

    low: int
    high: int
    wrong: str
    fix: str
    blank: Any = 0

    def read(self, value: Any, units: UnitSystem) -> int:  # noqa: ARG002
        """Return the number."""
        whole = isinstance(value, int) and not isinstance(value, bool)
        if not whole or not self.low <= value <= self.high:
            raise WrongError((self.wrong.format(quoted(value)), self.fix))
        return int(value)

    def limits(self) -> str:
        """Return the limits."""
        return f"{self.low} to {self.high}" if self.low < self.high else f"{self.low}"


@dataclass(frozen=True, kw_only=True)
class Flag(Kind):
    """A truth value: true or false."""

    blank: Any = False

    def read(self, value: Any, units: UnitSystem) -> bool:  # noqa: ARG002
        """Return the truth value."""
        if not isinstance(value, bool):
            raise WrongError((f"{quoted(value)} is neither true nor false", "Write true or false"))
        return value

    def limits(self) -> str:
        """Return the permitted values."""
        return "`true`, `false`"

    def shown(self, value: Any) -> str:
        """Return a default as TOML writes it."""
        return "true" if value else "false"


@dataclass(frozen=True, kw_only=True)
class Text(Kind):
    """A text; `check` raises WrongError where it is invalid, and is not called for an empty one."""

    check: Callable[[str], None] | None = None
    blank: Any = ""

    def read(self, value: Any, units: UnitSystem) -> str:  # noqa: ARG002
        """Return the text without blanks around it."""
        if not isinstance(value, str):
            raise WrongError((f"{quoted(value)} is not text", 'Put it between quotes, like "this"'))
        text = value.strip()
        if not text and self.missing is not None:
            raise WrongError(self.missing)
        if text and self.check is not None:
            self.check(text)
        return text


@dataclass(frozen=True, kw_only=True)
class Word(Text):
    """One of `words` (an enum or texts), case-insensitive; `what` names their kind."""

    words: Sequence[str]
    what: str = "known"

    def read(self, value: Any, units: UnitSystem) -> str:
        """Return the word, as a member of the enum where `words` is one."""
        text = super().read(value, units)
        known = {str(word).lower(): word for word in self.words}
        if text.lower() not in known:
            fix = one_of(text, [str(word) for word in self.words])
            raise WrongError((f"{quoted(value)} is not {self.what}", fix))
        return known[text.lower()]

    def limits(self) -> str:
        """Return the words."""
        return ", ".join(f"`{word}`" for word in self.words)


@dataclass(frozen=True, kw_only=True)
class Day(Text):
    """A day of the calendar, as ISO text; TOML's own dates are taken too."""

    def read(self, value: Any, units: UnitSystem) -> str:
        """Return the day as ISO text, "" where it is empty."""
        text = super().read(str(value) if type(value) is date else value, units)
        try:
            return date.fromisoformat(text).isoformat() if text else ""
        except ValueError:
            raise WrongError((f"{quoted(text)} is no day", "Write it like 2021-09-02")) from None


@dataclass(frozen=True, kw_only=True)
class Row(Kind):
    """A list: one item for each kind in `of`, or up to `most` items of its only kind.

    Anything else is reported as not being `what`, with the remedy `fix`; `check` validates the
    values read. `alone`: they are texts, of which a single one may be given without brackets.
    """

    of: tuple[Kind, ...]
    what: str
    fix: str
    most: int = 1000
    check: Callable[[tuple[Any, ...]], None] | None = None
    alone: bool = False

    def read(self, value: Any, units: UnitSystem) -> tuple[Any, ...]:
        """Return the values read; raise WrongError with the faults of all of them."""
        given = [value] if self.alone and isinstance(value, str) else value
        if not self._fits(given):
            raise WrongError((f"{quoted(value)} is not {self.what}", self.fix))
        if len(given) > self.most:
            raise WrongError((f"it has {len(given)} items", f"Keep to {self.most} at most"))
        found: list[Any] = []
        faults: list[tuple[str, str]] = []
        for kind, one in zip(self._kinds(given), given, strict=True):
            try:
                found.append(kind.read(one, units))
            except WrongError as wrong:
                faults += wrong.faults
        if faults:
            raise WrongError(*faults)
        if self.check is not None:
            self.check(tuple(found))
        return tuple(found)

    def _fits(self, given: Any) -> bool:
        """Return whether a value is a list of the right length, lists within it too."""
        if not isinstance(given, list) or not given:
            return False
        if self.alone:
            return all(isinstance(one, str) for one in given)
        inner = all(
            not isinstance(kind, Row) or kind._fits(one)
            for kind, one in zip(self._kinds(given), given, strict=False)
        )
        return inner and len(given) == len(self._kinds(given))

    def limits(self) -> str:
        """Return the permitted values of each item."""
        return ", ".join(dict.fromkeys(kind.limits() for kind in self.of))

    def with_units(self, value: Any, units: UnitSystem) -> Any:
        """Return the list with the unit appended to its plain numbers."""
        if not isinstance(value, list):
            return value
        kinds = self._kinds(value)
        return [kind.with_units(one, units) for kind, one in zip(kinds, value, strict=False)]

    def _kinds(self, value: list[Any]) -> tuple[Kind, ...]:
        """Return the kind of each item."""
        return self.of if len(self.of) > 1 else self.of * len(value)
