"""Checks of the flows of a build, from the command line and from Python alike."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from numbers import Real
from typing import Any

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.quoting import quoted
from reachmap.base.units import FLOW, flow_label, from_si, plain_number
from reachmap.base.words import UnitSystem
from reachmap.flow.place import SAME_FLOW
from reachmap.markup.layers import FLOW_LIMITS, MOST_FLOWS

FIX = "Give a number above zero, like 2400 or 68m3/s on the command line, 68.0 (m3/s) in Python"


def checked_flows(
    flows: Any, units: UnitSystem, *, where: str = "flows"
) -> tuple[float, ...] | None:
    """Return the flows of a build [m3/s], rising, each once; None (those of reach.toml) for None.

    Parameters
    ----------
    flows
        Discharges [m3/s], each within `FLOW_LIMITS`; anything that may come from a caller.
    units
        The reach folder's units, for the messages.
    where
        What the faults name.

    Raises
    ------
    MarkupError
        Listing everything that is no flow: text, NaN, infinite, zero, negative or beyond the
        limits; no flow at all, too many, or two that would bear one name.
    """
    if flows is None:
        return None
    if isinstance(flows, (str, bytes)) or not isinstance(flows, Iterable):
        found = f"{quoted_number(flows)} is not a list of flows"
        raise MarkupError([Fault(where, found, "Give a list, like [42.0, 68.0]")])
    given = list(flows)
    if not given:
        raise MarkupError([Fault(where, "the list is empty", "Name a flow, or leave flows out")])
    if len(given) > MOST_FLOWS:
        fix = f"Keep to {MOST_FLOWS} at most"
        raise MarkupError([Fault(where, f"there are {len(given)} flows", fix)])
    faults = [fault for one in given if (fault := _fault(one, units, where)) is not None]
    if not faults:
        good = sorted({float(one) for one in given})
        faults = _alike(good, units, where)
    if faults:
        raise MarkupError(faults)
    return tuple(good)


def check_within(
    flows: Sequence[float], mapped: Sequence[float], units: UnitSystem, *, where: str = "flow"
) -> None:
    """Refuse flows that nothing is known of, as `within_faults` finds them.

    Raises
    ------
    MarkupError
        Listing each of them.
    """
    faults = within_faults(flows, mapped, units, where=where)
    if faults:
        raise MarkupError(faults)


def within_faults(
    flows: Sequence[float], mapped: Sequence[float], units: UnitSystem, *, where: str = "flow"
) -> list[Fault]:
    """Return a fault for each flow that nothing is known of: outside those that are mapped.

    Parameters
    ----------
    flows
        Discharges [m3/s].
    mapped
        Flows mapped [m3/s], rising.
    units
        The reach folder's units, for the message.
    where
        What the faults name.

    Notes
    -----
    Nothing is carried on beyond what was worked out.
    """
    low, high = mapped[0], mapped[-1]
    fix = "Ask for a flow between them, or add one beyond it to [flows] in reach.toml and build"
    span = f"{_text(low, units)} to {_text(high, units)}"
    return [
        Fault(where, f"{_text(flow, units)} is outside the mapped flows, {span}", fix)
        for flow in flows
        if not low * (1 - SAME_FLOW) <= flow <= high * (1 + SAME_FLOW)
    ]


def quoted_number(value: object) -> str:
    """Return a value fit to be quoted; Python refuses to print whole numbers of 4,300 digits."""
    try:
        return quoted(value)
    except ValueError:
        return "a number of thousands of digits"


def _fault(value: object, units: UnitSystem, where: str) -> Fault | None:
    """Return what is wrong with one flow, None if it is one."""
    if isinstance(value, bool) or not isinstance(value, Real):
        return Fault(where, f"{quoted_number(value)} is not a number", FIX)
    try:
        flow = float(value)
    except OverflowError:
        flow = math.inf
    if not math.isfinite(flow) or flow <= 0:
        return Fault(where, f"{quoted_number(value)} is not a flow", FIX)
    low, high = FLOW_LIMITS
    if not low <= flow <= high:
        fix = f"Give a flow from {_text(low, units)} to {_text(high, units)}"
        return Fault(where, f"{_text(flow, units)} is no river's flow", fix)
    return None


def _text(flow: float, units: UnitSystem) -> str:
    """Return a flow [m3/s] in the folder's units, for a message."""
    return f"{plain_number(from_si(flow, FLOW[units]))} {FLOW[units]}"


def _alike(flows: list[float], units: UnitSystem, where: str) -> list[Fault]:
    """Return a fault for each two flows whose pages would bear one name."""
    fix = "Take one out, or set them further apart"
    return [
        Fault(where, f"two flows would both be called {flow_label(one, units)}", fix)
        for one, other in pairwise(flows)
        if flow_label(one, units) == flow_label(other, units)
    ]
