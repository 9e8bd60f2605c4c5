"""Reader of depths in a log of NMEA 0183 sentences of an echo sounder and its receiver.

The sentences are read by pynmea2. Depth comes from DBS (below the surface), DPT (below the
transducer, with an offset) or DBT (below the transducer), the place from RMC or GGA, the day from
RMC. Depth sentences carry no time: their place is interpolated between the fixes around them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pynmea2

from reachmap.base.arrays import FloatArray
from reachmap.base.units import to_si
from reachmap.markup.sounder_rows import Rows

SENTENCE = re.compile(r"[$!][A-Z]{2}(RMC|GGA|DBS|DPT|DBT),[^\r\n$!]*")
"""A sentence that is read, anywhere in its line: loggers write a time before it."""

LONGEST_GAP_S = 10.0
"""Longest time between two fixes over which places are interpolated [s] (our choice, 3-30)."""

BEST_FIRST = ("DBS", "DPT", "DBT")
"""Depth sentences in order of preference: most devices send one ping as two sentences."""


@dataclass(slots=True)
class _Log:
    """Fixes and depths with the numbers of their lines."""

    fixes: list[tuple[int, float, float, float]] = field(default_factory=list)
    depths: dict[str, list[tuple[int, float, bool]]] = field(
        default_factory=lambda: {name: [] for name in BEST_FIRST}
    )
    day: datetime | None = None
    broken: int = 0


def read_nmea(text: str) -> Rows | str:
    """Return the depths of a log, or a text on its fault as a whole.

    A sentence whose checksum is wrong is left out and counted.

    Parameters
    ----------
    text
        Text of the log, one sentence a line; other sentences and lines are skipped.
    """
    log = _Log()
    for number, sentence in _sentences(text):
        try:
            _take(number, pynmea2.parse(sentence), log)
        except (
            pynmea2.ParseError,
            ValueError,
            TypeError,
            LookupError,
            AttributeError,
            ArithmeticError,
        ):
            log.broken += 1
    kind = next((name for name in BEST_FIRST if log.depths[name]), None)
    if kind is None:
        return "it has no sentence of depth (DBT, DPT or DBS)"
    if not log.fixes:
        return "it has no place that is valid (RMC or GGA)"
    depths = log.depths[kind]
    at = np.array([one[0] for one in depths], dtype=np.float64)
    x, y, seconds = _between(at, np.array(log.fixes, dtype=np.float64))
    times = np.full(at.size, np.datetime64("NaT", "s"))
    known = np.isfinite(seconds)
    times[known] = np.round(seconds[known]).astype(np.int64).astype("datetime64[s]")
    none = np.full(at.size, "", dtype=object)
    return Rows(
        x,
        y,
        True,
        np.array([one[1] for one in depths], dtype=np.float64),
        np.full(at.size, np.nan),
        times,
        none,
        none,
        np.array([one[2] for one in depths], dtype=bool),
        log.broken,
    )


def _sentences(text: str) -> Iterator[tuple[int, str]]:
    """Yield each sentence of a kind that is read, with the number of its line."""
    for number, line in enumerate(text.splitlines()):
        match = SENTENCE.search(line)
        if match is not None:
            yield number, match[0].strip()


def _take(number: int, sentence: Any, log: _Log) -> None:
    """Add the fix or depth of one sentence."""
    kind = sentence.sentence_type
    if kind == "RMC":
        if sentence.status == "A":
            log.day = sentence.datetime
            log.fixes.append(_fix(number, sentence, log.day))
    elif kind == "GGA":
        # RMC, which has the date, is preferred where a receiver sends both
        if int(sentence.gps_qual or 0) > 0 and log.day is None:
            log.fixes.append(_fix(number, sentence, None))
    else:
        log.depths[kind].append((number, *_depth(kind, sentence)))


def _fix(number: int, sentence: Any, when: datetime | None) -> tuple[int, float, float, float]:
    """Return a fix: line, longitude, latitude, seconds since 1970 (NaN without a day)."""
    if not sentence.lat or not sentence.lon:
        raise ValueError
    seconds = math.nan if when is None else when.replace(tzinfo=UTC).timestamp()
    return number, float(sentence.longitude), float(sentence.latitude), seconds


def _depth(kind: str, sentence: Any) -> tuple[float, bool]:
    """Return a depth [m], NaN for none, and whether it is measured from the surface.

    The offset of DPT is positive from the transducer up to the surface, negative down to the keel.
    """
    if kind == "DPT":
        depth, offset = _number(sentence.depth), _number(sentence.offset)
        return (depth + offset, True) if offset > 0 else (depth, False)
    # by position: the library names the fields of the two sentences differently
    feet, metres = _number(sentence.data[0]), _number(sentence.data[2])
    depth = metres if math.isfinite(metres) else to_si(feet, "ft")
    return depth, kind == "DBS"


def _number(given: object) -> float:
    """Return a field as a number, NaN where it is empty."""
    return math.nan if given is None or given == "" else float(str(given))


def _between(at: FloatArray, fixes: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return longitude, latitude and time of lines between fixes; NaN outside and in long gaps."""
    line = fixes[:, 0]
    inside = (at >= line[0]) & (at <= line[-1])
    after = np.clip(np.searchsorted(line, at), 1, max(line.size - 1, 1))
    if line.size > 1:
        gap = fixes[after, 3] - fixes[after - 1, 3]
        inside &= ~(gap > LONGEST_GAP_S)
    x, y, seconds = (
        np.where(inside, np.interp(at, line, fixes[:, column]), np.nan) for column in (1, 2, 3)
    )
    return x, y, seconds
