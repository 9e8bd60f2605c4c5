"""Distribution of the runs over the sides of the paper."""

from __future__ import annotations

import math

MOST_A_SIDE = 3
"""Most runs on a side; more would make their maps illegible."""


def room_for(height: float, panel: float) -> int:
    """Return how many panels fit into a height [px], at most `MOST_A_SIDE`."""
    return min(max(int(height // panel), 0), MOST_A_SIDE)


def panels_a_side(runs: int, *, only: int, first: int, further: int, last: int) -> list[int]:
    """Return the number of runs on each side, as evenly as they fit.

    Parameters
    ----------
    runs
        Runs of the day's list.
    only, first, further, last
        How many fit on a side that is the only one, the first of several, an intermediate one, or
        the last one with the key and footer. `further` is at least 1.

    Examples
    --------
    >>> panels_a_side(5, only=2, first=3, further=3, last=2)
    [3, 2]
    >>> panels_a_side(3, only=2, first=3, further=3, last=2)
    [2, 1]
    >>> panels_a_side(0, only=2, first=3, further=3, last=2)
    [0]
    """
    if runs <= only:
        return [runs]
    sides = 2 + max(math.ceil((runs - first - last) / max(further, 1)), 0)
    rooms = [first, *[max(further, 1)] * (sides - 2), last]
    found, left = [], runs
    for index, room in enumerate(rooms):
        needed = left - sum(rooms[index + 1 :])
        even = min(room, math.ceil(left / (sides - index)))
        found.append(max(needed, even))
        left -= found[-1]
    return found
