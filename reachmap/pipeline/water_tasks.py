"""Whole reaches as tasks of a Dask scheduler, where its workers see the folders."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Lock
from typing import Any

from reachmap.base.fingerprint import digest_file
from reachmap.markup.files import REACH_FILE
from reachmap.markup.waters import Water
from reachmap.pipeline.folder import FolderBuilt

_ONE_BUILD = Lock()
"""One build at a time in a worker process: its libraries write files from one thread only."""


@dataclass(frozen=True, slots=True)
class WaterBuilt:
    """Result of one water: its build, or the error that ended it."""

    water: Water
    built: FolderBuilt | None = None
    error: Exception | None = None


def completed_tasks(
    waters: Sequence[Water], work: Callable[[Water], WaterBuilt], address: str
) -> Iterator[WaterBuilt] | None:
    """Return an iterator over results as tasks end; None where flows make better tasks than waters.

    Parameters
    ----------
    waters
        The reach folders.
    work
        What a task does; it must not raise.
    address
        Of the scheduler.

    Notes
    -----
    A task reads and writes its reach folder where its worker runs. So each worker must find every
    reach.toml under the same path with the same bytes: on one machine, or on a disk they share.
    With fewer reaches than worker processes some would stand idle: the flows are then the tasks.

    Raises
    ------
    BuildError
        As for `flow.engine.scheduler.on_scheduler`.
    """
    from reachmap.flow.engine.scheduler import checked_client  # its kernels take seconds to load

    here = {str(one.folder.resolve()): _digest(one.folder) for one in waters}
    with checked_client(address) as client:
        found = client.run(_has_folders, here)
    if len(waters) < len(found) or not all(found.values()):
        return None
    return _completed(waters, work, address)


def _completed(
    waters: Sequence[Water], work: Callable[[Water], WaterBuilt], address: str
) -> Iterator[WaterBuilt]:
    """Yield the result of each water as its task ends; a worker that dies is that reach's error."""
    from dask.distributed import as_completed

    from reachmap.flow.engine.scheduler import checked_client

    with checked_client(address) as client:
        tasks: dict[Any, Water] = {}
        for water in waters:
            there = replace(water, folder=water.folder.resolve())
            tasks[client.submit(_one_at_a_time, work, there, pure=False)] = water
        with client.as_current():
            ended = as_completed(tasks)  # type: ignore[no-untyped-call]
        for task in ended:
            water, error = tasks[task], task.exception()
            yield WaterBuilt(water, error=error) if error else replace(task.result(), water=water)


def _one_at_a_time(work: Callable[[Water], WaterBuilt], water: Water) -> WaterBuilt:
    """Do a task's work under the lock of this worker process."""
    with _ONE_BUILD:
        return work(water)


def _has_folders(folders: Mapping[str, str]) -> bool:
    """Return whether each folder's reach.toml is here with the same digest."""
    return all(_digest(Path(folder)) == digest for folder, digest in folders.items())


def _digest(folder: Path) -> str:
    """Return the digest of a folder's reach.toml; empty where there is none to read."""
    try:
        return digest_file(folder / REACH_FILE)
    except OSError:
        return ""
