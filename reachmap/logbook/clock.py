"""Plausibility checks of a trip's time and of the computer's clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

AHEAD = timedelta(days=1)
"""How far ahead of the clock a trip may begin unquestioned (our choice): time zones differ."""

OLD = timedelta(days=5 * 365)
"""A folder whose newest trip or file is older than this: the clock is questioned; our choice,
2-10 years."""

WRITTEN = datetime(2026, 1, 1, tzinfo=UTC)
"""When this version was written: no clock that is right reads earlier."""

LASTS = timedelta(days=15 * 365)
"""How long this version may be in use before the clock is questioned; our choice, 10-30 years."""


@dataclass(frozen=True, slots=True)
class KnownTimes:
    """Times of a folder's newest trip and newest file; None where there is none."""

    trip: datetime | None = None
    file: datetime | None = None


def clock_fault(now: datetime, known: KnownTimes) -> str:
    """Return a sentence on why the computer's clock looks wrong; "" where it does not.

    Parameters
    ----------
    now
        The clock, with its zone.
    known
        Times of the folder.
    """
    dated = (("the newest trip in the log", known.trip), ("a file of this folder", known.file))
    for words, when in dated:
        if when is not None and when > now + AHEAD:
            return f"It is behind: {words} is of {when:%Y-%m-%d}."
    if now < WRITTEN:
        return f"It is behind: this program is of {WRITTEN:%Y}."
    times = [when for when in (known.trip, known.file) if when is not None]
    if times and now - max(times) > OLD:
        newest = f"{max(times):%Y-%m-%d}"
        return f"It may be ahead: the newest trip or file of this folder is of {newest}."
    if now - WRITTEN > LASTS:
        return f"It may be ahead: this program is of {WRITTEN:%Y}."
    return ""


def date_question(when: datetime, now: datetime, known: KnownTimes) -> str:
    """Return the question to put before a trip is kept; "" where its time is plausible.

    Questioned are a trip that lies ahead of the clock, and one at about the clock's own time where
    the clock looks wrong. A trip of long ago is taken as typed.
    """
    clock = f"Your computer says {now:%Y-%m-%d %H:%M}"
    fault = clock_fault(now, known)
    if when > now + AHEAD:
        return f"{clock}, and this trip lies ahead of it: is {when:%Y-%m-%d} right? {fault}".strip()
    if now - when > AHEAD or not fault:
        return ""
    return f"{clock}: is that right? {fault}"
