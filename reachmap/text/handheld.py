"""Words in files for a GPS or a phone on features left out of them."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import noted, tr

NAMES: Mapping[str, str] = {
    "access": noted("ways in"),
    "runs": noted("ends of runs"),
    "water": noted("ends of water"),
    "structure": noted("lies"),
    "asks": noted("places worth a note"),
    "lanes": noted("lanes"),
    "wade": noted("wade lines"),
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
    groups = ", ".join(f"{count} {tr(NAMES.get(group, group))}" for group, count in lost.items())
    parts = (
        [tr("Left out for the limits of your device: {groups}.", groups=groups)] if groups else []
    )
    if thinned:
        parts.append(
            tr(
                "Lines with points left out for the limits of your device: {thinned}.",
                thinned=thinned,
            )
        )
    return " ".join(parts)


def end_of(end: str, thing: str) -> str:
    """Return one end of a stretch, "top" or "foot", in words.

    Examples
    --------
    >>> end_of("top", "Lantern Pool")
    'top of Lantern Pool'
    """
    return tr(ENDS_OF[end], thing=thing)


def end_word(end: str) -> str:
    """Return one end of a stretch, "top" or "foot", in one word."""
    return tr("top") if end == "top" else tr("foot")


ENDS_OF: Mapping[str, str] = {
    "top": noted("top of {thing}"),
    "foot": noted("foot of {thing}"),
}
"""Ends of a stretch: of a run, of a piece of water, of what is fished that day."""
