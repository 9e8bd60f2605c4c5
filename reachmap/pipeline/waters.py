"""Several reach folders built, one after another or side by side; one that fails stops no other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from multiprocessing import get_context

from reachmap.base.progress import Progress
from reachmap.markup.waters import Water
from reachmap.pipeline.folder import build_folder
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.water_tasks import WaterBuilt, ended_tasks

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
        Called with what came of each water as it ends.
    scheduler
        Address of a Dask scheduler; empty for this machine. Where its workers see the very same
        folders and are no more than the reaches, each reach is a task; else the flows of each are.
    workers
        Reaches built side by side on this machine. 1: one after another, each with all cores, which
        suits a few long rivers; more: each with one process, which suits many small ones. A script
        that gives more than 1 must be importable without building.

    Returns
    -------
    what came of each, in the order of `waters`.

    Raises
    ------
    BuildError
        If nobody answers at the scheduler, or the extra is not installed.
    """
    whole = partial(_alone, options=options, scheduler="")
    spread = ended_tasks(waters, whole, scheduler) if scheduler else None
    if spread is not None:
        return _told(spread, waters, progress, done)
    if workers > 1:
        beside = partial(_alone, options=options, scheduler=scheduler)
        return _told(side_by_side(waters, beside, workers), waters, progress, done)
    found = []
    for water in waters:
        found.append(_tried(water, options, progress, scheduler, None))
        done(found[-1])
    return found


def side_by_side(waters: Sequence[Water], work: Work, workers: int) -> Iterator[WaterBuilt]:
    """Yield what came of each water as it ends, each worked on in one of some processes.

    A process that the system kills (out of memory, say) takes its whole pool with it. The waters
    that had not ended then are tried again, each in a pool of its own, so that the one at fault
    fails alone.
    """
    lost = []
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        asked = {pool.submit(work, one): one for one in waters}
        for ended in as_completed(asked):
            error = ended.exception()
            if isinstance(error, BrokenProcessPool):
                lost.append(asked[ended])
            else:
                yield _came(asked[ended], error, ended.result)
    for water in lost:
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
            again = pool.submit(work, water)
            yield _came(water, again.exception(), again.result)


def _came(
    water: Water, error: BaseException | None, result: Callable[[], WaterBuilt]
) -> WaterBuilt:
    """Return what came of a water, an error of its process told as its own."""
    if error is None:
        return result()
    if isinstance(error, Exception):
        return WaterBuilt(water, error=error)
    raise error


def _told(
    ended: Iterator[WaterBuilt],
    waters: Sequence[Water],
    progress: ProgressContext,
    done: Callable[[WaterBuilt], None],
) -> list[WaterBuilt]:
    """Tell of each water as it ends; return all in their order."""
    made = {}
    with progress() as told:
        told("building", 0, len(waters))
        for number, one in enumerate(ended, start=1):
            made[one.water.folder] = one
            told(f"building: {one.water.folder.name} done", number, len(waters))
            done(one)
    return [made[water.folder] for water in waters]


def _alone(water: Water, options: Options, scheduler: str) -> WaterBuilt:
    """Build one water in a process of its own, unseen."""
    return _tried(water, options, _unseen, scheduler, 1)


def _tried(
    water: Water,
    options: Options,
    progress: ProgressContext,
    scheduler: str,
    workers: int | None,
) -> WaterBuilt:
    """Return what came of building one water."""
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
def _unseen() -> Iterator[Progress]:
    """Yield a progress callback that shows nothing."""
    yield lambda *_: None
