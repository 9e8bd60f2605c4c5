"""Waypoints of a GPS as log entries.

A waypoint whose name or comment begins with "edge", "depth 2.5" or "speed 1.2" (numbers as the
reach folder writes them) is an observation, one that begins with a structure, like "bucket", or
with "hold" a place where fish hold; any other is fishing at that place and time.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import UTC

import gpxpy
from gpxpy.gpx import GPXException, GPXWaypoint

from reachmap.base.errors import Fault
from reachmap.base.words_runs import StructureKind
from reachmap.logbook.model import TEXT_LONGEST, UNMEASURED, Entry, Seen, SeenKind
from reachmap.logbook.rows import RowsError

HOLDS = ("hold", *(kind.value.replace("_", " ") for kind in StructureKind))
"""First words of a waypoint that marks a place where fish hold."""

OBSERVED = re.compile(
    rf"\s*(edge|depth|speed|{'|'.join(HOLDS)})\b[\s:=]*([0-9]+(?:[.,][0-9]+)?)?", re.IGNORECASE
)
KINDS = {
    "edge": SeenKind.EDGE,
    "depth": SeenKind.SOUNDING,
    "speed": SeenKind.SPEED,
    **dict.fromkeys(HOLDS, SeenKind.HOLD),
}


def from_gpx(text: str, *, length: Callable[[float], float]) -> tuple[list[Entry], list[Fault]]:
    """Return the entries of GPX text: one for each waypoint, with what was observed there.

    A device's file holds waypoints of other days and for other ends: one that cannot be kept, as
    one without a time, does not reject the others. These are listed with what is wrong with them.

    Parameters
    ----------
    text
        A GPX document.
    length
        Turns a number of the folder's units (of length, or of length a second) into SI.

    Raises
    ------
    RowsError
        If the file is no GPX.
    """
    if "<!DOCTYPE" in text or "<!ENTITY" in text:  # could name other files
        fix = "Export it again from the program that made it"
        raise RowsError([Fault("the file", "it declares entities", fix)])
    try:
        points = gpxpy.parse(text).waypoints
    except (GPXException, ValueError) as error:
        fault = Fault("the file", f"it is no GPX ({error})", "Give a GPX file with waypoints")
        raise RowsError([fault]) from None
    entries, faults = [], []
    for number, point in enumerate(points, start=1):
        try:
            entries.append(_entry(point, length))
        except ValueError as error:
            where = f"waypoint {number} {(point.name or '')[:40]!r}"
            faults.append(Fault(where, str(error), "Mend the waypoint or take it out"))
    return entries, faults


def _entry(point: GPXWaypoint, length: Callable[[float], float]) -> Entry:
    """Return one waypoint as an entry; its id is made of time and place, so it is kept once."""
    if point.time is None:
        msg = "it has no time"
        raise ValueError(msg)
    when = point.time if point.time.tzinfo else point.time.replace(tzinfo=UTC)
    observed = next(
        (text for text in (point.name, point.comment) if text and OBSERVED.match(text)), None
    )
    seen: tuple[Seen, ...] = ()
    if observed is not None:
        seen = (_seen(observed, point, length),)
    words = " ".join(t for t in (point.name, point.comment, point.description) if t)
    return Entry(
        uid=f"gpx-{when.astimezone(UTC):%Y%m%dT%H%M%S}-{point.longitude:.6f}-{point.latitude:.6f}",
        when=when,
        x=point.longitude,
        y=point.latitude,
        note=words[:TEXT_LONGEST],
        seen=seen,
    )


def _seen(words: str, point: GPXWaypoint, length: Callable[[float], float]) -> Seen:
    """Return the observation of a waypoint's name or comment."""
    match = OBSERVED.match(words)
    if match is None:
        msg = f"{words!r} says nothing that was seen"
        raise ValueError(msg)
    kind = KINDS[match[1].lower()]
    if kind not in UNMEASURED and match[2] is None:
        msg = f"{match[1].lower()} without a number"
        raise ValueError(msg)
    value = length(float(match[2].replace(",", "."))) if match[2] else math.nan
    value = math.nan if kind in UNMEASURED else value
    return Seen(kind, point.longitude, point.latitude, value, words[:TEXT_LONGEST])
