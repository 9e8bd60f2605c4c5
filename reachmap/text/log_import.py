"""Sentences of an import into the log: what is asked, what was kept and what was left out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.logbook.importing import Doubt, DoubtKind, Imported
from reachmap.logbook.model import Entry

FAR = {UnitSystem.US: ("mi", "miles"), UnitSystem.METRIC: ("km", "km")}
"""Unit of a distance across country, and its name."""


def doubt_words(doubt: Doubt, entry: Entry, units: UnitSystem) -> str:
    """Return the question that a doubtful entry raises; a yes keeps it.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> trip = Entry(datetime(2021, 1, 5, tzinfo=UTC), run="Teakettel")
    >>> doubt_words(Doubt(DoubtKind.RUN, run="Teakettle"), trip, UnitSystem.US)
    "no run here is called 'Teakettel'. Is it 'Teakettle'?"
    """
    if doubt.kind is DoubtKind.RUN:
        meant = f"Is it {doubt.run!r}?" if doubt.run else "Keep it under that name?"
        return f"no run here is called {entry.run!r}. {meant}"
    if doubt.kind is DoubtKind.AHEAD:
        return "it is ahead of this computer's clock. Keep it?"
    unit, name = FAR[units]
    away = f"{from_si(doubt.apart_m, unit):,.0f} {name}" if math.isfinite(doubt.apart_m) else "far"
    return f"its place lies {away} from this river. Keep it?"


def how_to_keep(doubts: Sequence[Doubt]) -> str:
    """Return how to keep an entry that nobody was there to answer for."""
    meant = next((one.run for one in doubts if one.run), "")
    mend = f"Write {meant!r} there" if meant else "Mend it"
    return f"{mend} and import the file again; --sure keeps every entry as it stands"


def imported_lines(name: str, done: Imported) -> list[str]:
    """Return what became of a file's entries, one line first and one for each left out.

    Parameters
    ----------
    name
        Of the file.
    done
        What the import returned.
    """
    held = "1 entry" if done.held == 1 else f"{done.held} entries"
    out = [f"{held} in {name}, {done.new} of them new."]
    if done.refused:
        out.append(f"Not kept, as you said: {done.refused}.")
    out += [f"Left out: {one.where}: {one.found}. {one.fix}." for one in done.unread]
    out += [f"Not kept: {one.where}: {one.found} {one.fix}." for one in done.unasked]
    return out
