"""Times that a reach folder holds, to compare the computer's clock with."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from reachmap.logbook.clock import Known
from reachmap.logbook.store import FILE, TripLog

LOOKED_IN = ("", "gauge", "photos", "underlay")
"""Folders of a reach folder whose files tell their time; what is written there is not asked."""


def known_times(folder: Path) -> Known:
    """Return when the newest trip of a folder began, and when its newest file was written."""
    trip = None
    if (folder / FILE).is_file():
        with TripLog(folder / FILE) as log:
            trip = next((entry.when for entry in log.latest(1)), None)
    files = [path for name in LOOKED_IN for path in (folder / name).glob("*") if _told(path)]
    newest = max((path.stat().st_mtime for path in files), default=None)
    return Known(trip, None if newest is None else datetime.fromtimestamp(newest, UTC))


def _told(path: Path) -> bool:
    """Return whether a path is a file whose time counts: no lock or note of a program."""
    return path.is_file() and not path.name.startswith(".")
