"""Reading of reach.toml against its schema: values, and every fault with its line and remedy.

The values come from tomllib, the lines from a scan of the text: no TOML library of Python keeps the
line of a key (tomlkit writes a file with interleaved [[sections]] back in another order).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError

from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, one_of, quoted
from reachmap.base.words import UnitSystem
from reachmap.markup.config.kinds import BLANK
from reachmap.markup.config.schema import KIT, OWN, PLAIN, SCHEMA, TABLES, ReachKeys, TopKeys
from reachmap.markup.config.shared import apply_shared, read_shared
from reachmap.markup.files import REACH_FILE
from reachmap.markup.waters_file import WATERS_FILE

REPEATED = (*KIT, *TABLES)
SECTIONS = (*PLAIN, *KIT, *OWN, *TABLES)
"""All sections of reach.toml."""

_HEAD = re.compile(r"^\s*\[{1,2}\s*([\w.-]+)\s*\]{1,2}")
_KEY = re.compile(r"^\s*([\w-]+)\s*=")

Place = tuple[str | int, ...]
"""Position of a value: section, its index where it is repeatable, key."""


@dataclass(frozen=True, slots=True)
class Parsed:
    """reach.toml as read: its values, blank where they are at fault, with faults and notes.

    `raw` holds the parsed TOML; `broken`: the text is no TOML; `shared_lines` are the line numbers
    in waters.toml of the values taken from it, `shared_faults` its faults.
    """

    keys: ReachKeys
    raw: Mapping[str, Any]
    lines: Mapping[Place, int]
    faults: tuple[tuple[Place, str, str], ...]
    notes: tuple[str, ...]
    broken: bool = False
    shared_lines: Mapping[Place, int] = field(default_factory=dict)
    shared_faults: tuple[Fault, ...] = ()

    def line(self, place: Place) -> int:
        """Return the line of a key, of its section where it is missing; 0 where both are."""
        return self.lines.get(place) or self.lines.get(place[:-1]) or 0

    def fault(self, place: Place, found: str, fix: str) -> Fault:
        """Return a fault with the line of its place."""
        *home, key = place or ("",)
        section = ".".join(part for part in home if isinstance(part, str))
        if not section and key in SECTIONS:
            section, key = str(key), ""
        shared = 0 if place in self.lines else self.shared_lines.get(place, 0)
        line = shared or self.line(place)
        parts = [WATERS_FILE if shared else REACH_FILE, *([f"line {line}"] if line else [])]
        parts += [f"[{section}] {key}".strip() if section else str(key)] if place else []
        return Fault(", ".join(parts), found, fix)


def read_keys(text: str, shared: str = "") -> Parsed:
    """Return the values in the text of reach.toml, and every fault of single values.

    `shared` is the text of waters.toml, which gives values that reach.toml leaves out.
    """
    try:
        raw = tomllib.loads(text)
    except (
        ValueError,
        RecursionError,
    ) as error:  # also numbers or nesting beyond the parser's limits
        found = f"it is not valid TOML: {str(error)[:200]}"
        fix = (
            'Mend that place: text wants quotes ("like this"), numbers none, and no commas in them'
        )
        empty: dict[str, Any] = {name: {} for name in (*PLAIN, *OWN)}
        keys, _ = _checked(empty)
        return Parsed(keys, empty, {}, (((), found, fix),), (), broken=True)
    common = read_shared(shared)
    taken, unlike = apply_shared(raw, common)
    faults, notes = _shaped(raw)
    keys, wrong = _checked(raw)
    lines = _lines_of(shared) if taken else {}
    return Parsed(
        keys,
        raw,
        _lines_of(text),
        (*faults, *wrong),
        tuple(notes),
        shared_lines={place: line for place, line in lines.items() if place and place[0] in taken},
        shared_faults=(*common.faults, *unlike),
    )


def _shaped(raw: dict[str, Any]) -> tuple[list[tuple[Place, str, str]], list[str]]:
    """Remove unknown sections, add missing ones; return faults and notes."""
    faults: list[tuple[Place, str, str]] = []
    notes = []
    for name in [name for name in raw if name not in SECTIONS]:
        value = raw[name]
        if not isinstance(value, dict) and not (isinstance(value, list) and _are_tables(value)):
            continue  # a key: pydantic refuses it
        del raw[name]
        if (near := nearest(name, SECTIONS)) is not None:
            faults.append(((name, ""), f"[{name}] is not a section", f"Did you mean [{near}]?"))
        elif isinstance(value, dict):
            notes.append(f"{REACH_FILE}: section [{name}] is not read here.")
    for name in REPEATED:
        value = raw.get(name, [])
        if value != [] and not (isinstance(value, list) and _are_tables(value)):
            fix = f"Write [[{name}]] with two brackets on each side, once for each"
            faults.append(((name, ""), f"{name} is not a list", fix))
            del raw[name]
    for name in (*PLAIN, *OWN):
        if not isinstance(raw.setdefault(name, {}), dict):
            fix = f"Write it as a section: a line [{name}], its values below"
            faults.append(((name,), f"{name} is not a section", fix))
            raw[name] = {}
    return faults, notes


def _are_tables(value: list[Any]) -> bool:
    """Return whether a list holds tables and nothing else."""
    return bool(value) and all(isinstance(item, dict) for item in value)


def _checked(raw: dict[str, Any]) -> tuple[ReachKeys, list[tuple[Place, str, str]]]:
    """Return the values, those at fault blanked, and the faults; `raw` is changed."""
    units = UnitSystem.US
    if str(raw.get("units")).strip().lower() == UnitSystem.METRIC:
        units = UnitSystem.METRIC
    faults: list[tuple[Place, str, str]] = []
    try:
        return SCHEMA.model_validate(raw, context={"units": units}), []
    except ValidationError as error:
        for one in error.errors(include_url=False):
            place = one["loc"]
            faults += [(place, *words) for words in _words(one["type"], place, one)]
            _blank(raw, place, one["type"])
    return SCHEMA.model_validate(raw, context={"units": units}), faults


def _words(kind: str, place: Place, error: Any) -> list[tuple[str, str]]:
    """Return what was found and the remedy, for an error of pydantic."""
    if kind == "wrong":
        return list(error["ctx"]["faults"])
    home, key = _model_at(place[:-1]), str(place[-1])
    if kind == "missing":
        return [home.kinds()[key][0].missing]  # type: ignore[attr-defined]
    if kind == "extra_forbidden":
        model = TopKeys if len(place) == 1 else home
        known = sorted(field.alias or name for name, field in model.model_fields.items())
        return [(f"{quoted(key)} is not a key here", one_of(key, known))]
    return [(f"{key} is not a section", f"Write it as [{'.'.join(map(str, place))}]")]


def _model_at(place: Place) -> type[BaseModel]:
    """Return the pydantic model of the section at a place."""
    model: Any = SCHEMA
    for part in place:
        if isinstance(part, str):
            known = {**PLAIN, **KIT, **TABLES, **OWN}
            model = known.get(part) or model.model_fields[part].annotation
    return model  # type: ignore[no-any-return]


def _blank(raw: Any, place: Place, kind: str) -> None:
    """Blank a value at fault; remove an unknown key, empty a section that is not a table."""
    *home, key = place
    for part in home:
        raw = raw[part]
    if kind == "extra_forbidden":
        del raw[key]
    else:
        raw[key] = BLANK if kind in ("wrong", "missing") else {}


def _lines_of(text: str) -> dict[Place, int]:
    """Return the line of each section and key."""
    lines: dict[Place, int] = {}
    counts: dict[str, int] = {}
    home: Place = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if head := _HEAD.match(line):
            home = tuple(head[1].split("."))
            if head[1] in REPEATED:
                counts[head[1]] = counts.get(head[1], -1) + 1
                home = (head[1], counts[head[1]])
            lines.setdefault(home, number)
        elif key := _KEY.match(line):
            lines.setdefault((*home, key[1]), number)
    return lines
