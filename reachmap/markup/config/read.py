"""reach.toml checked against its schema: the values, and every fault with its line and mend.

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
from reachmap.markup.config.shared import lay_below, read_shared
from reachmap.markup.files import REACH_FILE
from reachmap.markup.waters_file import WATERS_FILE

REPEATED = (*KIT, *TABLES)
SECTIONS = (*PLAIN, *KIT, *OWN, *TABLES)
"""All sections of reach.toml."""

_HEAD = re.compile(r"^\s*\[{1,2}\s*([\w.-]+)\s*\]{1,2}")
_KEY = re.compile(r"^\s*([\w-]+)\s*=")

Place = tuple[str | int, ...]
"""Where a value stands: section, its count where it may stand several times, key."""


@dataclass(frozen=True, slots=True)
class Parsed:
    """reach.toml as read: its values, blank where they are at fault, and what was found.

    `raw` holds the values as TOML has them; `broken` says that the text is no TOML; `shared_lines`
    are those of waters.toml, of what was taken from it, `shared_faults` what is wrong with it.
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
    """Return what the text of reach.toml holds, and all that is wrong with single values.

    `shared` is the text of waters.toml: what reach.toml does not say is taken from it.
    """
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers or lists beyond all measure
        found = f"it is not valid TOML: {str(error)[:200]}"
        fix = (
            'Mend that place: text wants quotes ("like this"), numbers none, and no commas in them'
        )
        empty: dict[str, Any] = {name: {} for name in (*PLAIN, *OWN)}
        keys, _ = _checked(empty)
        return Parsed(keys, empty, {}, (((), found, fix),), (), broken=True)
    common = read_shared(shared)
    taken, unlike = lay_below(raw, common)
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
    """Take out what is not a section of ours, add those left out; return faults and notes."""
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
    """Return what was found and how to mend it, for an error of pydantic."""
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
    """Return the model of the section at a place."""
    model: Any = SCHEMA
    for part in place:
        if isinstance(part, str):
            known = {**PLAIN, **KIT, **TABLES, **OWN}
            model = known.get(part) or model.model_fields[part].annotation
    return model  # type: ignore[no-any-return]


def _blank(raw: Any, place: Place, kind: str) -> None:
    """Blank a value at fault; take out a key that is none, empty a section that is none."""
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
