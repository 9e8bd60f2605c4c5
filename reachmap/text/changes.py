"""Two lines on what a build changed on the map and how much surer it is."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reachmap.base.words import UnitSystem
from reachmap.planner.changes import MOVED_M, BuildChange
from reachmap.text.numbers import distance_words, length_words, list_words

NAMED_MOST = 4
"""Runs named in a line at the most; our choice: more are counted."""

ALIKE = 0.05
"""Least change of a spread, as a share, that counts as surer or less sure; our choice, 2-10 %."""


def change_lines(change: BuildChange, units: UnitSystem) -> list[str]:
    """Return two lines: what changed on the map at one flow, and how much surer it is.

    The second is left out where neither build knows how sure it is.

    Examples
    --------
    >>> depth, edge = (0.18, 0.12), (2.1, 1.2)
    >>> one = BuildChange("1,800 cfs", ("Ford",), (), ("Bench", "Ford"), 0.12, depth, edge)
    >>> told, sure = change_lines(one, UnitSystem.US)
    >>> told.split("; ")[0], told.split("; ")[1]
    ('Since the last build, at 1,800 cfs: Ford fishes now', 'Ford is first, was Bench')
    >>> sure
    'Surer than before: depth to 0.4 ft, was 0.6 ft; edge to 1 yd, was 2 yd (two times in three).'
    """
    return [_map_line(change, units), *_sure_line(change, units)]


def _map_line(change: BuildChange, units: UnitSystem) -> str:
    """Return what changed on the map."""
    said = []
    if change.gained:
        said.append(f"{_named(change.gained)} {_fish(change.gained)} now")
    if change.lost:
        said.append(f"{_named(change.lost)} {_fish(change.lost)} no longer")
    before, now = change.first
    if now and before and now != before:
        said.append(f"{now} is first, was {before}")
    if not said:
        said.append("the same runs fish" + (f", {now} first" if now else ""))
    if math.isfinite(change.depth_moved):
        least = length_words(MOVED_M, units)
        share = f"{100 * change.depth_moved:.0f} %"
        if 0 < change.depth_moved < 0.005:
            share = "less than 1 %"
        moved = f"over {share} of the water the depth moved by {least} or more"
        said.append(moved if change.depth_moved else f"no depth moved by {least} or more")
    return f"Since the last build, at {change.flow}: {'; '.join(said)}."


def _sure_line(change: BuildChange, units: UnitSystem) -> list[str]:
    """Return how much surer the map is; nothing where that is not known."""
    parts, turns = [], []
    for what, (before, now), words in (
        ("depth", change.depth_spread_m, length_words),
        ("edge", change.edge_spread_m, distance_words),
    ):
        if not math.isfinite(now):
            continue
        known = math.isfinite(before) and before > 0
        parts.append(
            f"{what} to {words(now, units)}{f', was {words(before, units)}' if known else ''}"
        )
        if known and abs(now / before - 1) >= ALIKE:
            turns.append(now < before)
    if not parts:
        return []
    verdict = "As sure as before"
    if turns and all(turns):
        verdict = "Surer than before"
    elif turns and not any(turns):
        verdict = "Less sure than before"
    elif turns:
        verdict = "Surer in one thing, less in another"
    return [f"{verdict}: {'; '.join(parts)} (two times in three)."]


def _named(runs: Sequence[str]) -> str:
    """Return the names of runs, those beyond the first few counted."""
    more = len(runs) - NAMED_MOST
    return list_words(runs if more < 2 else [*runs[:NAMED_MOST], f"{more} more"])


def _fish(runs: Sequence[str]) -> str:
    """Return the verb for one run or several."""
    return "fishes" if len(runs) == 1 else "fish"
