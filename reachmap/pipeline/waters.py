"""Several reach folders built, one after another or side by side; one that fails stops no other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, contextmanager
from functools import partial

from reachmap.base.progress import Progress
from reachmap.markup.waters import Water
from reachmap.pipeline.folder import build_folder
from reachmap.pipeline.processes import worker_pool
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.water_tasks import WaterBuilt, completed_tasks

__all__ = ["WaterBuilt", "build_waters"]

ProgressContext = Callable[[], AbstractContextManager[Progress]]
Work = Callable[[Water], WaterBuilt]


def build_waters(
    waters: Sequence[Water],
    options: Options,
    *,
    progress: ProgressContext,
    done: Callable[[WaterBuilt], None] = lambda _: None,
    scheduler: str = "",
    workers: int = 1,
) -> list[WaterBuilt]:
    """Build several reach folders, each into its own written folder.

    Parameters
    ----------
    waters
        From `read_waters`.
    options
        Of every build; flows are those of each reach.toml.
    progress
        Returns a context with the progress callback (step, done, total).
    done
        Called with the result of each water as it ends.
    scheduler
        Address of a Dask scheduler; empty for this machine. Where its workers see the very same
        folders and are no more than the reaches, each reach is a task; else the flows of each are.
    workers
        Reaches built side by side on this machine. 1: one after another, each with all cores, which
        suits a few long rivers; more: each with one process, which suits many small ones. A script
        that gives more than 1 must be importable without building.

    Returns
    -------
    the result of each, in the order of `waters`.

    Raises
    ------
    BuildError
        If the scheduler does not answer, or the extra is not installed.
    """
    whole = partial(_alone, options=options, scheduler="")
    spread = completed_tasks(waters, whole, scheduler) if scheduler else None
    if spread is not None:
        return _reported(spread, waters, progress, done)
    if workers > 1:
        work = partial(_alone, options=options, scheduler=scheduler)
        return _reported(side_by_side(waters, work, workers), waters, progress, done)
    found = []
    for water in waters:
        found.append(_tried(water, options, progress, scheduler, None))
        done(found[-1])
    return found


def side_by_side(waters: Sequence[Water], work: Work, workers: int) -> Iterator[WaterBuilt]:
    """Yield the result of each water as it ends, each built in one of `workers` processes.

    A process that the system kills (out of memory, say) breaks its whole pool. The waters not done
    by then are tried again, each in a pool of its own, so that only the one at fault fails.
    """
    lost = []
    with worker_pool(workers) as pool:
        waiting = {pool.submit(work, one): one for one in waters}
        for ended in as_completed(waiting):
            error = ended.exception()
            if isinstance(error, BrokenProcessPool):
                lost.append(waiting[ended])
            else:
                yield _outcome(waiting[ended], error, ended.result)
    for water in lost:
        with worker_pool(1) as pool:
            again = pool.submit(work, water)
            yield _outcome(water, again.exception(), again.result)


def _outcome(
    water: Water, error: BaseException | None, result: Callable[[], WaterBuilt]
) -> WaterBuilt:
    """Return the result of a water, or the error that ended its process."""
    if error is None:
        return result()
    if isinstance(error, Exception):
        return WaterBuilt(water, error=error)
    raise error


def _reported(
    ended: Iterator[WaterBuilt],
    waters: Sequence[Water],
    progress: ProgressContext,
    done: Callable[[WaterBuilt], None],
) -> list[WaterBuilt]:
    """Report each water as it ends; return all in the order of `waters`."""
    made = {}
    with progress() as report:
        report("building", 0, len(waters))
        for number, one in enumerate(ended, start=1):
            made[one.water.folder] = one
            report(f"building: {one.water.folder.name} done", number, len(waters))
            done(one)
    return [made[water.folder] for water in waters]


def _alone(water: Water, options: Options, scheduler: str) -> WaterBuilt:
    """Build one water in a process of its own, without progress."""
    return _tried(water, options, _silent, scheduler, 1)


def _tried(
    water: Water,
    options: Options,
    progress: ProgressContext,
    scheduler: str,
    workers: int | None,
) -> WaterBuilt:
    """Build one water; return the result or the error."""
    try:
        built = build_folder(
            water.folder,
            None,
            options,
            replace=False,
            progress=progress,
            scheduler=scheduler,
            workers=workers,
        )
    except Exception as error:  # noqa: BLE001 - whatever it is, it must not stop the other waters
        return WaterBuilt(water, error=error)
    return WaterBuilt(water, built)


@contextmanager
def _silent() -> Iterator[Progress]:
    """Yield a progress callback that shows nothing."""
    yield lambda *_: None
