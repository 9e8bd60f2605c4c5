"""Results in memory and worker processes, kept between builds by a program that builds repeatedly.

A single build keeps nothing. Names of results hold their keys (`pipeline.store`), so a result in
memory under a name is the one that the file of that name holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any

from reachmap.base.held import holding
from reachmap.pipeline.processes import worker_pool


@dataclass(slots=True)
class WarmState:
    """Results and worker processes kept from one build to the next.

    Parameters
    ----------
    results
        Results by the name of their file.
    pool
        Worker processes that read flows, their kernels compiled and loaded; None before the first.
    """

    results: dict[str, Any] = field(default_factory=dict)
    pool: ProcessPoolExecutor | None = None

    def workers(self, number: int) -> ProcessPoolExecutor:
        """Return the worker processes, started on the first call."""
        if self.pool is None:
            self.pool = worker_pool(number)
        return self.pool

    def keep_only(self, names: set[str]) -> None:
        """Drop every result but those named, which the last build used."""
        self.results = {name: one for name, one in self.results.items() if name in names}

    def close(self) -> None:
        """Stop the worker processes; tasks not begun are cancelled."""
        if self.pool is not None:
            self.pool.shutdown(wait=False, cancel_futures=True)
            self.pool = None


_STATE: ContextVar[WarmState | None] = ContextVar("warm_state", default=None)


def warm_state() -> WarmState | None:
    """Return the state kept between builds; None in a program that builds once."""
    return _STATE.get()


@contextmanager
def keep_warm() -> Iterator[WarmState]:
    """Keep results and worker processes for as long as the context lasts."""
    mine = WarmState()
    token = _STATE.set(mine)
    try:
        with holding():
            yield mine
    finally:
        _STATE.reset(token)
        mine.close()
