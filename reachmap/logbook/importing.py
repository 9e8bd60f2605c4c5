"""What is asked about entries of a file before the log keeps them, and what became of them."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from reachmap.base.errors import Fault
from reachmap.logbook.stats import run_key

ALIKE = 0.7
"""Least likeness of two names at which one is taken for the other's misspelling, by difflib's
ratio (twice the signs in common over all signs); our choice, 0.6-0.85."""


class DoubtKind(StrEnum):
    """What is doubtful about an entry."""

    RUN = "run"
    PLACE = "place"
    AHEAD = "ahead"


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reason to ask before an entry is kept.

    Parameters
    ----------
    kind
        A run that is none of the river's, a place far from it, or a time ahead of the clock.
    run
        Of a run: the name that was probably meant; "" for none alike.
    apart_m
        Of a place: how far it lies from the river [m]; infinity where it is no place of the map.
    """

    kind: DoubtKind
    run: str = ""
    apart_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of a file's entries.

    Parameters
    ----------
    held
        Entries in the file, those that are not kept included.
    new
        Entries that were not in the log before and are now.
    unread
        Waypoints that no entry can be made of.
    unasked
        Entries with a question that nobody was there to answer: not kept.
    refused
        Entries with a question that was answered by no: not kept.
    """

    held: int
    new: int
    unread: tuple[Fault, ...] = ()
    unasked: tuple[Fault, ...] = ()
    refused: int = 0


def name_alike(name: str, known: Iterable[str]) -> str:
    """Return the known name that is spelt most like another; "" where none is.

    Examples
    --------
    >>> name_alike("tea kettel", ["Sandpiper", "Teakettle"])
    'Teakettle'
    """
    by_key = {run_key(one): one for one in known}
    found = difflib.get_close_matches(run_key(name), by_key, n=1, cutoff=ALIKE)
    return by_key[found[0]] if found else ""
