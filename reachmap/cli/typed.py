"""Words typed on the command line, as values: flows, lengths, temperatures, times, addresses."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.quoting import quoted
from reachmap.base.units import FLOW, LENGTH, to_si
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import FLOW_LIMITS
from reachmap.outputs.choices import is_tile_address
from reachmap.pipeline.flow_checks import checked_flows

UNIT_WORDS = {"cfs": "cfs", "ft3/s": "cfs", "m3/s": "m3/s", "m3s": "m3/s", "cms": "m3/s"}
"""Units a flow may be typed with."""

HEIGHT_WORDS = {"ft": "ft", "feet": "ft", "m": "m"}
"""Units a gauge height may be typed with."""

Rated = Callable[[float], float]
"""Returns the flow [m3/s] of a gauge height [m]; raises MarkupError where the rating ends."""

Beyond = Callable[[Sequence[float]], list[Fault]]
"""Returns a fault for flows [m3/s] outside those that are rated, or mapped."""


def typed_flows(
    words: Sequence[str],
    units: UnitSystem,
    rated: Rated | None = None,
    beyond: Beyond = lambda _: [],
) -> tuple[float, ...] | None:
    """Return typed flows [m3/s], rising, each once; None where none was typed.

    Parameters
    ----------
    words
        Flows, with or without their unit, or gauge heights, with theirs: 2400, 68m3/s, 4.2ft.
    units
        The folder's, of plain numbers, which are flows.
    rated
        Returns the flow of a gauge height [m], by the folder's rating; None: heights are no flows.
    beyond
        Returns what is wrong with flows [m3/s]: those outside what is rated or mapped.

    Raises
    ------
    MarkupError
        Listing every word that is not a flow, every height that the rating does not know, what
        `checked_flows` finds, and every flow out of range.
    """
    faults: list[Fault] = []
    flows: list[float] = []
    for word in words:
        match = re.fullmatch(r"\s*([0-9][0-9,]*\.?[0-9]*)\s*([a-z0-9/]*)\s*", word.lower())
        number = float(match[1].replace(",", "")) if match is not None else math.nan
        unit = UNIT_WORDS.get(match[2]) if match and match[2] else FLOW[units]
        height = HEIGHT_WORDS.get(match[2]) if match and rated is not None else None
        if height is not None and rated is not None:
            try:
                flows.append(rated(to_si(number, height)))
            except MarkupError as error:
                faults += error.faults
        elif unit is None or not 0 < number < math.inf:
            fix = f"Give a number above zero, like 2400 or 68m3/s; plain numbers are {FLOW[units]}"
            fix += "" if rated is None else ", and 4.2ft is a gauge height"
            faults.append(Fault("--flow", f"{quoted(word)} is not a flow", fix))
        else:
            flows.append(to_si(number, unit))
    checked = None
    try:
        checked = checked_flows(flows or None, units, where="--flow")
    except MarkupError as error:
        faults += error.faults
    low, high = FLOW_LIMITS
    faults += beyond([flow for flow in flows if low <= flow <= high])
    if faults:
        raise MarkupError(list(dict.fromkeys(faults)))
    return checked


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


def typed_day(text: str | None) -> date | None:
    """Return a typed day; None where nothing was typed.

    Raises
    ------
    MarkupError
        If it is not a day.
    """
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        fix = "Give a day like 2031-01-14"
        raise MarkupError([Fault("--date", f"{text!r} is not a day", fix)]) from None
