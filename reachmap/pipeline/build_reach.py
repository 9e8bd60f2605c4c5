"""Entry point of a build, from Python and the command line: checks options, finds the folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace as replace_fields
from functools import partial
from pathlib import Path

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.progress import Progress
from reachmap.base.words import UnitSystem
from reachmap.base.writer import one_writer
from reachmap.markup.model import Markup
from reachmap.pipeline.any_flow import Mapped
from reachmap.pipeline.flow_checks import checked_flows, quoted_number
from reachmap.pipeline.order import Built, build_reach, write_product
from reachmap.pipeline.place import Place, place_for
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import CELLS, Options

__all__ = ["Built", "build_placed", "checked_options", "write_mapped"]


def checked_options(units: UnitSystem, flows: Sequence[float] | None, options: Options) -> Options:
    """Return the options of a map asked for from Python, checked.

    Parameters
    ----------
    units
        The reach folder's units, for the messages.
    flows
        Discharges [m3/s] instead of those of reach.toml; None for those.
    options
        The other options.

    Raises
    ------
    MarkupError
        Listing each fault of the flows, or else of the other options.
    """
    checked = checked_flows(flows, units)
    faults = _faults(options.cell, options.season)
    if faults:
        raise MarkupError(faults)
    cell = None if options.cell is None else float(options.cell)
    return replace_fields(options, flows=checked, cell=cell)


def build_placed(
    reach: Markup,
    out: Path | None,
    options: Options,
    *,
    replace: bool = False,
    progress: Progress = lambda *_: None,
    workers: int = 1,
    scheduler: str = "",
) -> tuple[Built, Place]:
    """Build a reach into its output folder; return the build and the folder with its reason.

    The folder is chosen again once its lock is held: another build may have ended there while this
    one waited.

    Parameters
    ----------
    reach, options, progress, workers, scheduler
        As for `build_reach`.
    out, replace
        As for `place_for`.
    """
    settings = settings_for(reach, options)
    run = partial(
        build_reach,
        reach,
        options=options,
        progress=progress,
        workers=workers,
        scheduler=scheduler,
        settings=settings,
    )
    find = partial(
        place_for, reach.folder, out, options, replace=replace, cell_m=settings.ground.cell
    )
    return _placed(find, run, progress)


def write_mapped(
    mapped: Mapped, out: Path | None, *, replace: bool = False, progress: Progress = lambda *_: None
) -> tuple[Built, Place]:
    """Write a mapped reach into its output folder; return the build and the folder.

    Parameters
    ----------
    mapped
        From `map_reach`.
    out, replace
        As for `place_for`.
    progress
        Progress callback (step, done, total).
    """
    run = partial(
        write_product,
        product=mapped.product,
        options=mapped.options,
        fresh=mapped.fresh,
        progress=progress,
    )
    cell_m = mapped.settings.ground.cell
    find = partial(
        place_for, mapped.reach.folder, out, mapped.options, replace=replace, cell_m=cell_m
    )
    return _placed(find, run, progress)


def _placed(
    find: Callable[[], Place], run: Callable[..., Built], progress: Progress
) -> tuple[Built, Place]:
    """Run a build, `run(out=folder)`, in its output folder, under that folder's lock."""
    place = find()
    while True:
        with one_writer(place.folder, "a build", waiting=lambda words: progress(words, 0, 1)):
            now = find()
            if now.folder == place.folder:
                return run(out=now.folder), now
        place = now


def _faults(cell: float | None, season: str | None) -> list[Fault]:
    """Return what is wrong with the other options of a build."""
    faults = []
    if cell is not None and (isinstance(cell, bool) or cell not in CELLS):
        fix = "Use 0.5, 1, 2 or 4, or leave it out to have it chosen by the river's width"
        faults.append(Fault("cell", f"{quoted_number(cell)} is no size of cell", fix))
    if season not in (None, "winter", "summer"):
        found = f"{quoted_number(season)} is not a season"
        faults.append(Fault("season", found, "Use winter or summer, or leave it out"))
    return faults
