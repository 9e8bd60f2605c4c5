"""Runs of a flow that the map cannot tell apart, by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reachmap.angler.interception.ranks import overlapping
from reachmap.text.numbers import number_of, text_of


def equals_of(rows: Sequence[Mapping[Any, Any]]) -> dict[str, tuple[str, ...]]:
    """Return for each run of a flow those that it is equal with, the best first.

    Parameters
    ----------
    rows
        Of the table of runs by flow, of one flow. A run that is shut there is equal with none.
    """
    one_can = [row for row in rows if not text_of(row.get("shut"))]
    mine = sorted(one_can, key=lambda row: -number_of(row.get("odds")))
    mine = [row for row in mine if number_of(row.get("rank_low")) >= 1]
    both = overlapping([row["rank_low"] for row in mine], [row["rank_high"] for row in mine])
    names = [str(row["run"]) for row in mine]
    return {
        name: tuple(other for k, other in enumerate(names) if both[i, k] and k != i)
        for i, name in enumerate(names)
    }
