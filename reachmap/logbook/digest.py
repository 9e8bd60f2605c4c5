"""Digest of the log's observations of bed and water; the rest of a trip does not change it."""

from __future__ import annotations

import json
import math
from pathlib import Path

from reachmap.base.fingerprint import digest_bytes
from reachmap.logbook.model import Entry, SeenKind
from reachmap.logbook.store import kept_in


def evidence_digest(folder: Path) -> str:
    """Return a digest of what was seen and measured at a known flow; "" for none."""
    rows = [
        [
            str(one.kind),
            one.x,
            one.y,
            one.value if math.isfinite(one.value) else None,
            entry.flow,
            day_of(entry),
            *([one.note] if one.kind is SeenKind.HOLD else []),
        ]
        for entry in kept_in(folder)
        for one in entry.seen
        if has_flow(entry)
    ]
    return digest_bytes(json.dumps(rows).encode()) if rows else ""


def has_flow(entry: Entry) -> bool:
    """Return whether the river's flow at a trip is known."""
    return math.isfinite(entry.flow) and entry.flow > 0


def day_of(entry: Entry) -> str:
    """Return the day of a trip, ISO."""
    return f"{entry.when:%Y-%m-%d}"
