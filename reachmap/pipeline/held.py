"""Results held in memory, and processes kept, by a program that builds again and again.

A build by itself holds nothing. Names of results hold their keys (`pipeline.store`), so what is
held under a name is what the file of that name would give.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from multiprocessing import get_context
from typing import Any


@dataclass(slots=True)
class Held:
    """What a program holds from one build to the next.

    Parameters
    ----------
    results
        Results by the name of their file.
    pool
        Processes that read flows, with what they compiled and loaded; None before the first.
    """

    results: dict[str, Any] = field(default_factory=dict)
    pool: ProcessPoolExecutor | None = None

    def workers(self, number: int) -> ProcessPoolExecutor:
        """Return the processes, made the first time."""
        if self.pool is None:
            self.pool = ProcessPoolExecutor(number, mp_context=get_context("spawn"))
        return self.pool

    def keep_only(self, names: set[str]) -> None:
        """Let go of every result but some: those that the last build did not use."""
        self.results = {name: one for name, one in self.results.items() if name in names}

    def close(self) -> None:
        """End the processes; what they have not begun is not done."""
        if self.pool is not None:
            self.pool.shutdown(wait=False, cancel_futures=True)
            self.pool = None


_HELD: ContextVar[Held | None] = ContextVar("held", default=None)


def held() -> Held | None:
    """Return what is held; None in a program that builds once."""
    return _HELD.get()


@contextmanager
def holding() -> Iterator[Held]:
    """Hold results and processes for as long as the context lasts."""
    mine = Held()
    token = _HELD.set(mine)
    try:
        yield mine
    finally:
        _HELD.reset(token)
        mine.close()
