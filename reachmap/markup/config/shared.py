"""Settings of waters.toml shared by its reaches: defaults for what reach.toml leaves out.

A section that occurs once is shared key by key. Repeatable sections (the kit and the angler's own
tables) are shared as a whole: a reach that lists rods of its own lists all of them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, quoted
from reachmap.markup.config.schema import KIT, OWN, TABLES
from reachmap.markup.waters_file import WATERS_FILE

SHARED = (
    "season",
    "angler",
    "outing",
    "prefer",
    "pages",
    *KIT,
    *(n for n in TABLES if n != "flight"),
    *(n for n in OWN if n != "clarity"),
)
"""Sections that waters.toml may contain: those on the angler."""

WATER = "water"
"""Section of waters.toml that lists the reach folders."""

TOP = ("units",)
"""Keys before any section."""


@dataclass(frozen=True, slots=True)
class Shared:
    """Parsed sections of waters.toml, its units, and every fault of it."""

    raw: Mapping[str, Any] = field(default_factory=dict)
    units: str = ""
    faults: tuple[Fault, ...] = ()


def read_shared(text: str) -> Shared:
    """Return the settings shared by the text of waters.toml; values at fault are left out."""
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        found = f"it is not valid TOML: {str(error)[:200]}"
        return Shared(faults=(Fault(WATERS_FILE, found, "Mend that place"),))
    faults = [_strange(name) for name in raw if name not in (*SHARED, *TOP, WATER)]
    kept = {name: value for name, value in raw.items() if name in SHARED}
    units = raw.get("units")
    if kept and not (isinstance(units, str) and units.strip().lower() in ("us", "metric")):
        found = "it does not say its units"
        fix = 'Add units = "us" (feet, cfs) or units = "metric" (metres, m3/s) at its beginning'
        return Shared(faults=(*faults, Fault(f"{WATERS_FILE}, units", found, fix)))
    return Shared(kept, str(units or "").strip().lower(), tuple(faults))


def _strange(name: str) -> Fault:
    """Return the fault of a section or key that waters.toml does not share."""
    known = (*SHARED, *TOP, WATER)
    near = nearest(name, known)
    fix = f"Did you mean {near}? " if near else ""
    fix += f"Put what belongs to one river into its reach.toml; shared are: {', '.join(known)}"
    return Fault(f"{WATERS_FILE}, {name}", f"{quoted(name)} is not shared by several rivers", fix)


def apply_shared(raw: dict[str, Any], shared: Shared) -> tuple[set[str], list[Fault]]:
    """Fill keys that a reach leaves out from the shared settings.

    Parameters
    ----------
    raw
        reach.toml, parsed; changed in place.
    shared
        From `read_shared`.

    Returns
    -------
    Sections from which anything was taken, and the fault where the units of the two differ.
    """
    if not shared.raw:
        return set(), []
    own = str(raw.get("units")).strip().lower()
    if own != shared.units:
        found = f"it is in {shared.units} units and this reach in {own}"
        fix = "Give both the same units: plain numbers could not be told apart"
        return set(), [Fault(f"{WATERS_FILE}, units", found, fix)]
    taken = set()
    for name, value in shared.raw.items():
        if name not in raw:
            raw[name] = value
            taken.add(name)
        elif isinstance(value, dict) and isinstance(raw[name], dict):
            raw[name] = _merged(value, raw[name])
            taken.add(name)
    return taken, []


def _merged(shared: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """Return a section with the reach's own keys replacing shared ones, nested tables likewise."""
    merged = dict(shared)
    for key, value in own.items():
        there = merged.get(key)
        both = isinstance(there, dict) and isinstance(value, dict)
        merged[key] = _merged(there, value) if both and isinstance(there, dict) else value
    return merged
