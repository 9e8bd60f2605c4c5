"""Several reach folders built, one after another or side by side; one that fails stops no other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from reachmap.base.progress import Progress
from reachmap.markup.waters import Water
from reachmap.pipeline.folder import FolderBuilt, build_folder
from reachmap.pipeline.stamp import Options

ProgressContext = Callable[[], AbstractContextManager[Progress]]


@dataclass(frozen=True, slots=True)
class WaterBuilt:
    """What came of one water: what was built, or what went wrong."""

    water: Water
    built: FolderBuilt | None = None
    error: Exception | None = None


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
        Address of a Dask scheduler that works out the flows of each reach; empty for this machine.
    workers
        Reaches built side by side. 1: one after another, each with all cores, which suits a few
        long rivers; more: each with one process, which suits many small ones. A script that gives
        more than 1 must be importable without building.

    Returns
    -------
    what came of each, in the order of `waters`.
    """
    if workers == 1:
        found = []
        for water in waters:
            found.append(_tried(water, options, progress, scheduler, None))
            done(found[-1])
        return found
    made: dict[Path, WaterBuilt] = {}
    with (
        progress() as told,
        ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool,
    ):
        told("building", 0, len(waters))
        asked = {pool.submit(_alone, one, options, scheduler): one for one in waters}
        for number, ended in enumerate(as_completed(asked), start=1):
            water = asked[ended]
            error = ended.exception()
            if error is not None and not isinstance(error, Exception):
                raise error
            one = WaterBuilt(water, error=error) if error is not None else ended.result()
            made[water.folder] = one
            told(f"building: {water.folder.name} done", number, len(waters))
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
