"""Worker processes of a build, which end when the process that started them ends in any way."""

from __future__ import annotations

import os
import threading
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait

ENDED = 1
"""Exit code of a worker whose parent is gone."""


def worker_pool(workers: int) -> ProcessPoolExecutor:
    """Return a pool of processes, started as they are needed.

    "spawn" is the one way to start a process that is the same on every system. A pool ends its
    workers when it is shut down; where its own process is killed nothing does, and they would work
    on, or wait for ever: so each of them watches its parent and ends with it. What a worker writes
    is written aside and renamed, so that nothing half-written stays.

    Parameters
    ----------
    workers
        Processes at the most, 1 or more.
    """
    spawn = get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=spawn, initializer=end_with_parent)


def end_with_parent() -> None:
    """End this process when its parent has ended; nothing in a process without one."""
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(ENDED)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()
