"""Flows as typed: a number in the folder's units, or with its unit behind it."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.quoting import quoted
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.base.units import FLOW, LENGTH, to_si
from reachmap.base.words import UnitSystem
from reachmap.outputs.choices import is_tile_address
from reachmap.pipeline.asked import asked_flows

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
        Listing every word that is not a flow, or else what `asked_flows` finds.
    """
    faults, flows = [], []
    for word in words:
        match = re.fullmatch(r"\s*([0-9][0-9,]*\.?[0-9]*)\s*([a-z0-9/]*)\s*", word.lower())
        unit = UNIT_WORDS.get(match[2]) if match and match[2] else FLOW[units]
        flow = float(match[1].replace(",", "")) if match is not None else math.nan
        if unit is None or not 0 < flow < math.inf:
            fix = f"Give a number above zero, like 2400 or 68m3/s; plain numbers are {FLOW[units]}"
            faults.append(Fault("--flow", f"{quoted(word)} is not a flow", fix))
            continue
        flows.append(to_si(flow, unit))
    if faults:
        raise MarkupError(faults)
    return asked_flows(flows or None, units, where="--flow")


def typed_tiles(address: str) -> str:
    """Return a typed address of imagery tiles; empty where none was typed.

    Raises
    ------
    MarkupError
        If it is no http or https address with a plain host and places for z, x and y.
    """
    if address and not is_tile_address(address):
        fix = "Give one like https://tiles.example.org/{z}/{x}/{y}.png"
        raise MarkupError([Fault("--tiles", f"{address!r} is no address of tiles", fix)])
    return address


def typed_length(value: float | None, units: UnitSystem) -> float | None:
    """Return a typed length [m]; None where none was typed."""
    return None if value is None else to_si(value, LENGTH[units])
