"""The processes that read flows: this one, and others beside it where there are workers."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from importlib import import_module
from typing import Protocol, TypeVar

from reachmap.pipeline.processes import worker_pool
from reachmap.pipeline.running import must_compile_readers
from reachmap.pipeline.warm import warm_state

PARTS = 6
"""Parts that each worker gets of the flows, one after the other (our choice, 2-12): fewer share
more of their grading, more keep all workers busy to the end."""

READING = ("reachmap.water", "reachmap.angler")
"""Modules that a process loads before it reads: some seconds with the libraries below them."""


class Reads(Protocol):
    """A flow's reading to be done."""

    @property
    def flow(self) -> object:
        """Return what is to be read; None where all is stored."""


T = TypeVar("T", bound=Reads)
Made = TypeVar("Made")
Kept = TypeVar("Kept")

Work = Callable[[Sequence[T]], Iterator[Made]]
"""Reads flows next to each other."""

Keep = Callable[[T, Made], Kept]
"""Stores what was read of a flow; called in this process, as soon as it is read."""


class Readers:
    """Up to `workers` processes that read flows, this one among them; 1 stays in this one."""

    def __init__(self, workers: int = 1) -> None:
        """Start nothing."""
        self.workers = workers
        self._pool: ProcessPoolExecutor | None = None

    def begin(self) -> None:
        """Start the other processes: they load what they need while this one is at work."""
        for _ in range(self.workers - 1):
            self._started().submit(_load)

    def read(
        self, work: Work[T, Made], keep: Keep[T, Made, Kept], tasks: Sequence[T]
    ) -> Iterator[Kept]:
        """Yield what is kept of each task, in order."""
        missing = sum(task.flow is not None for task in tasks)
        workers = min(self.workers, missing)
        # On a machine's first run one flow is read in this process before the others: every process
        # then loads the kernels compiled here instead of compiling them itself.
        alone = len(tasks)
        if workers > 1:
            first = next(k for k, task in enumerate(tasks) if task.flow is not None)
            alone = first + 1 if must_compile_readers() else 0
        try:
            for task, made in zip(tasks[:alone], work(tasks[:alone]), strict=True):
                yield keep(task, made)
            if alone < len(tasks):
                yield from spread(self._started(), work, keep, workers, tasks[alone:])
        finally:
            self.close()

    def close(self) -> None:
        """Stop the other processes, unless they are kept for builds to come."""
        if self._pool is not None:
            self._pool.shutdown()
            self._pool = None

    def _started(self) -> Executor:
        """Return the other processes."""
        if (kept := warm_state()) is not None:
            return kept.workers(self.workers - 1)
        if self._pool is None:
            self._pool = worker_pool(self.workers - 1)
        return self._pool


def spread(
    pool: Executor,
    work: Work[T, Made],
    keep: Keep[T, Made, Kept],
    workers: int,
    tasks: Sequence[T],
) -> Iterator[Kept]:
    """Yield what is kept of what a pool and this process make of tasks, in order.

    Neighbours go together, and share their grading. While the next part due is not done, this
    process keeps what others have done meanwhile, or else takes the last part that no worker has
    begun: what is left to keep at the end is little.
    """
    size = max(math.ceil(len(tasks) / (PARTS * workers)), 1)
    parts = [tasks[first : first + size] for first in range(0, len(tasks), size)]
    sent = [pool.submit(_all_of, work, part) for part in parts]
    kept: dict[int, list[Kept]] = {}

    def put(number: int, made: Sequence[Made]) -> None:
        kept[number] = [keep(*pair) for pair in zip(parts[number], made, strict=True)]

    try:
        for due in range(len(parts)):
            while due not in kept:
                left = [k for k in range(due, len(sent)) if k not in kept]
                ready = next((k for k in left if _is_done(sent[k])), None)
                if ready is None:
                    last = next((k for k in reversed(left) if sent[k].cancel()), None)
                    if last is not None:
                        put(last, _all_of(work, parts[last]))
                        continue
                    ready = due
                put(ready, sent[ready].result())
            yield from kept.pop(due)
    finally:
        for one in sent:
            one.cancel()


def _is_done(sent: Future[list[Made]]) -> bool:
    """Return whether another process has done a part."""
    return sent.done() and not sent.cancelled()


def _all_of(work: Work[T, Made], tasks: Sequence[T]) -> list[Made]:
    """Return the results of tasks as a list, which can be pickled."""
    return list(work(tasks))


def _load() -> None:
    """Load what reading needs."""
    for name in READING:
        import_module(name)
