"""Results held in memory from one build to the next, by a program that builds repeatedly.

A program that builds once holds nothing. A result is held under a name and a digest of everything
it is made of, so one that is found is the one that would be made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, TypeVar

from reachmap.base.digests import fingerprint

T = TypeVar("T")


@dataclass(slots=True)
class Held:
    """Results by name and digest, those that the present build used, and what it made anew.

    Parameters
    ----------
    results
        By name and digest.
    used
        Names and digests asked for since `drop_unused`.
    made
        Names made anew since then, in order.
    last
        Names made anew by the last build.
    """

    results: dict[str, Any] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)
    made: list[str] = field(default_factory=list)
    last: list[str] = field(default_factory=list)

    def drop_unused(self) -> None:
        """Drop every result not asked for since the last call; a build ends."""
        self.results = {name: one for name, one in self.results.items() if name in self.used}
        self.used, self.last, self.made = set(), self.made, []


_HELD: ContextVar[Held | None] = ContextVar("held_results", default=None)


def held_results() -> Held | None:
    """Return what this program holds; None in one that builds once."""
    return _HELD.get()


@contextmanager
def holding() -> Iterator[Held]:
    """Hold results for as long as the context lasts."""
    mine = Held()
    token = _HELD.set(mine)
    try:
        yield mine
    finally:
        _HELD.reset(token)


def held(name: str, inputs: object, make: Callable[[], T]) -> T:
    """Return what is made of inputs, made once while this program holds results.

    Nobody may change it.

    Parameters
    ----------
    name
        What it is.
    inputs
        Everything it is made of, or digests of it; as for `fingerprint`.
    make
        Makes it.
    """
    mine = _HELD.get()
    if mine is None:
        return make()
    full = f"{name}-{fingerprint(inputs)}"
    mine.used.add(full)
    if full not in mine.results:
        mine.results[full] = make()
        mine.made.append(name)
    found: T = mine.results[full]
    return found
