"""Words in files for a GPS or a phone on features left out of them."""

from __future__ import annotations

from collections.abc import Mapping

NAMES: Mapping[str, str] = {
    "access": "ways in",
    "runs": "ends of runs",
    "water": "ends of water",
    "structure": "lies",
    "asks": "places worth a note",
    "lanes": "lanes",
    "wade": "wade lines",
}
"""Names of groups of places and lines, plural."""


def lost_words(lost: Mapping[str, int], thinned: int) -> str:
    """Return the sentence on features left out to keep within a device's limits.

    Examples
    --------
    >>> lost_words({"water": 12, "asks": 3}, 0)
    'Left out for the limits of your device: 12 ends of water, 3 places worth a note.'
    >>> lost_words({}, 1)
    'Lines with points left out for the limits of your device: 1.'
    """
    groups = ", ".join(f"{count} {NAMES.get(group, group)}" for group, count in lost.items())
    parts = [f"Left out for the limits of your device: {groups}."] if groups else []
    if thinned:
        parts.append(f"Lines with points left out for the limits of your device: {thinned}.")
    return " ".join(parts)
