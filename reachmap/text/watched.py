"""Sentences of the page that shows a map and renews it while the river is drawn."""

from __future__ import annotations

TITLE = "The map, renewed as you draw"
NOW = "The map is of the folder as it is now."
ENDED = "reachmap has ended: this map is no longer renewed."
STILL = "The map below is still the one before."
LAST = "The map below is the last that could be built, not of what you changed since."
FIRST = "Nothing is built yet."
AGAIN = "It is tried again when a file changes."


def state_line(*, busy: bool, step: str, faults: bool, shown: bool) -> str:
    """Return one line on how far a watched folder is.

    Parameters
    ----------
    busy, step
        Whether it is being built, and what is done.
    faults
        Whether something stands against a map of it.
    shown
        Whether a map is there to look at.
    """
    if busy:
        doing = f"Building: {step}." if step else "Building."
        return f"{doing} {STILL if shown else FIRST}"
    if faults:
        return f"{LAST if shown else FIRST} {AGAIN}"
    return NOW if shown else FIRST
