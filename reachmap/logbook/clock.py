"""Whether a trip's time, or the computer's clock behind it, can be right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

AHEAD = timedelta(days=1)
"""How far ahead of the clock a trip may begin without a question (our choice): zones differ."""

OLD = timedelta(days=5 * 365)
"""With nothing in a folder for so long the clock is questioned; our choice, 2-10 years."""

WRITTEN = datetime(2026, 1, 1, tzinfo=UTC)
"""No clock that is right reads earlier: when this version was written."""

LASTS = timedelta(days=15 * 365)
"""How long this version may be in use before the clock is questioned; our choice, 10-30 years."""


@dataclass(frozen=True, slots=True)
class Known:
    """Times a folder holds: of its newest trip and of its newest file; None where there is none."""

    trip: datetime | None = None
    file: datetime | None = None


def clock_doubt(now: datetime, known: Known) -> str:
    """Return why the computer's clock looks wrong, as a sentence; "" where it does not.

    Parameters
    ----------
    now
        The clock, with its zone.
    known
        Times of the folder.
    """
    told = (("the newest trip in the log", known.trip), ("a file of this folder", known.file))
    for words, when in told:
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


def date_doubt(when: datetime, now: datetime, known: Known) -> str:
    """Return what is to be asked before a trip is kept at a time; "" for nothing.

    Asked are a trip that lies ahead of the clock, and one at about the clock's own time where the
    clock looks wrong. A trip of long ago is what was typed.
    """
    clock = f"Your computer says {now:%Y-%m-%d %H:%M}"
    doubt = clock_doubt(now, known)
    if when > now + AHEAD:
        return f"{clock}, and this trip lies ahead of it: is {when:%Y-%m-%d} right? {doubt}".strip()
    if now - when > AHEAD or not doubt:
        return ""
    return f"{clock}: is that right? {doubt}"
