"""Sentences on entries of the log."""

from __future__ import annotations

import math

from reachmap.base.language import date_text
from reachmap.base.units import FLOW, from_si
from reachmap.base.words import UnitSystem
from reachmap.logbook.model import Entry


def entry_line(entry: Entry, units: UnitSystem) -> str:
    """Return one entry as a line."""
    parts = [f"{date_text(entry.when, 'plain')} {entry.when:%H:%M}", entry.run or "(no run)"]
    if not math.isnan(entry.flow):
        parts.append(f"{from_si(entry.flow, FLOW[units]):.0f} {FLOW[units]}")
    if not entry.is_fishing:
        parts[1] = entry.run or "(a note)"
    else:
        if not math.isnan(entry.minutes):
            parts.append(f"{entry.minutes:.0f} min")
        parts.append(f"{entry.touches} touched, {entry.landed} landed, {entry.released} released")
    parts += [text for text in (entry.swung, entry.note) if text]
    notes = {} if entry.is_fishing else {one.note: one for one in entry.seen}
    parts += [one.note for one in notes.values() if one.note and one.note != entry.note]
    parts += [f"{len(entry.seen)} seen or measured"] if entry.seen else []
    return "; ".join(" ".join(part.split()) for part in parts)
