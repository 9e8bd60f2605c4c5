"""Words typed on the command line, as values: flows, lengths, temperatures, times, addresses."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.quoting import quoted
from reachmap.base.units import FLOW, LENGTH, to_si
from reachmap.base.words import UnitSystem
from reachmap.outputs.choices import is_tile_address
from reachmap.pipeline.asked import asked_flows

UNIT_WORDS = {"cfs": "cfs", "ft3/s": "cfs", "m3/s": "m3/s", "m3s": "m3/s", "cms": "m3/s"}
"""Units a flow may be typed with."""


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


def typed_number(value: float | None) -> float:
    """Return a typed number; NaN where none was typed."""
    return math.nan if value is None else value


def typed_celsius(value: float | None, units: UnitSystem) -> float:
    """Return a typed temperature of water [C]; NaN where none was typed.

    Raises
    ------
    MarkupError
        If no water is as cold or as warm.
    """
    if value is None:
        return math.nan
    celsius = (value - 32) / 1.8 if units is UnitSystem.US else value
    if not -2 <= celsius <= 40:
        unit = "Fahrenheit" if units is UnitSystem.US else "Celsius"
        fix = f"Give it in {unit}, as the folder's units are"
        raise MarkupError([Fault("--water-temp", f"{value:g} is no water's", fix)])
    return celsius


def typed_zone(name: str | None) -> ZoneInfo | None:
    """Return a typed time zone; None where none was typed.

    Raises
    ------
    MarkupError
        If there is none of that name.
    """
    try:
        return None if name is None else ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        fix = "Give one like America/Vancouver; left out, it is that of the place"
        raise MarkupError([Fault("--zone", f"{name!r} is no time zone", fix)]) from None


def typed_time(text: str | None) -> datetime | None:
    """Return a typed time, without a zone where none was typed; None where nothing was.

    Raises
    ------
    MarkupError
        If it is not a time.
    """
    try:
        return None if text is None else datetime.fromisoformat(text)
    except ValueError:
        fix = "Give a time like 2031-01-05T08:30"
        raise MarkupError([Fault("--now", f"{text!r} is not a time", fix)]) from None
