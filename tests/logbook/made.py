"""A log with entries in it, for tests of what reads one."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from reachmap.logbook.model import Entry
from reachmap.logbook.store import TripLog


def keep_all(path: Path, entries: Iterable[Entry]) -> int:
    """Keep entries in a log; return how many were new."""
    with TripLog(path) as log:
        return log.add(*entries)
