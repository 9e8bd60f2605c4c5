"""Flows as typed: a number in the folder's units, or with its unit behind it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import urlsplit

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.sized import FileKind, RefusedError, read_text
from reachmap.base.units import FLOW, LENGTH, to_si
from reachmap.base.words import UnitSystem

UNIT_WORDS = {"cfs": "cfs", "ft3/s": "cfs", "m3/s": "m3/s", "m3s": "m3/s", "cms": "m3/s"}
"""Units a flow may be typed with."""


def folder_units(folder: Path) -> UnitSystem:
    """Return the units reach.toml names; US where it cannot be read (the check tells of that)."""
    try:
        told = tomllib.loads(read_text(folder / "reach.toml", FileKind.SETTINGS, folder))
        return UnitSystem(str(told.get("units")))
    except (RefusedError, OSError, ValueError, RecursionError):
        return UnitSystem.US


def typed_flows(words: Sequence[str], units: UnitSystem) -> tuple[float, ...] | None:
    """Return typed flows [m3/s], rising, each once; None where none was typed.

    Raises
    ------
    MarkupError
        Listing every word that is not a flow.
    """
    faults, flows = [], set()
    for word in words:
        match = re.fullmatch(r"\s*([0-9][0-9,]*\.?[0-9]*)\s*([a-z0-9/]*)\s*", word.lower())
        unit = UNIT_WORDS.get(match[2]) if match and match[2] else FLOW[units]
        if match is None or unit is None or float(match[1].replace(",", "")) <= 0:
            fix = f"Give a number above zero, like 2400 or 68m3/s; plain numbers are {FLOW[units]}"
            faults.append(Fault("--flow", f"{word!r} is not a flow", fix))
            continue
        flows.add(to_si(float(match[1].replace(",", "")), unit))
    if faults:
        raise MarkupError(faults)
    return tuple(sorted(flows)) or None


def typed_tiles(address: str) -> str:
    """Return a typed address of imagery tiles; empty where none was typed.

    Raises
    ------
    MarkupError
        If it is no http or https address with a plain host and places for z, x and y.
    """
    host = urlsplit(address).netloc
    plain = re.fullmatch(r"(?:\{s\}\.)?[A-Za-z0-9.-]+(?::[0-9]+)?", host)
    holds = all(part in address for part in ("{z}", "{x}", "{y}"))
    known = urlsplit(address).scheme in ("http", "https")
    if address and not (plain and holds and known):
        fix = "Give one like https://tiles.example.org/{z}/{x}/{y}.png"
        raise MarkupError([Fault("--tiles", f"{address!r} is no address of tiles", fix)])
    return address


def typed_length(value: float | None, units: UnitSystem) -> float | None:
    """Return a typed length [m]; None where none was typed."""
    return None if value is None else to_si(value, LENGTH[units])
