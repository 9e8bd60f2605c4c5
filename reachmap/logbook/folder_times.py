"""Times of a reach folder's trips and files, to compare the computer's clock with."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from reachmap.logbook.clock import KnownTimes
from reachmap.logbook.store import FILE, TripLog

LOOKED_IN = ("", "gauge", "photos", "underlay")
"""Folders whose files count; files that the program writes elsewhere do not."""


def known_times(folder: Path) -> KnownTimes:
    """Return when the newest trip of a folder began, and when its newest file was written."""
    trip = None
    if (folder / FILE).is_file():
        with TripLog(folder / FILE) as log:
            trip = next((entry.when for entry in log.latest(1)), None)
    files = [path for name in LOOKED_IN for path in (folder / name).glob("*") if _is_dated(path)]
    newest = max((path.stat().st_mtime for path in files), default=None)
    return KnownTimes(trip, None if newest is None else datetime.fromtimestamp(newest, UTC))


def _is_dated(path: Path) -> bool:
    """Return whether a path is a file whose time counts; hidden files (locks, notes) do not."""
    return path.is_file() and not path.name.startswith(".")
