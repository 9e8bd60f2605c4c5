"""Build a reach folder; returns at once, without heavy imports, where nothing has changed."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reachmap.base.progress import Progress
from reachmap.pipeline.place import Place, known_cell, place_for
from reachmap.pipeline.stamp import Options, current_report, settled_folder
from reachmap.pipeline.standing import Standing

if TYPE_CHECKING:
    from reachmap.planner.changes import BuildChange


@dataclass(frozen=True, slots=True)
class FolderBuilt:
    """Report and place of a build; `fresh` is False where it was up to date already.

    `change` is what it changed against the build that stood in its place; None without one.
    """

    report: Mapping[str, Any]
    place: Place
    fresh: bool
    change: BuildChange | None = None


def build_folder(
    folder: Path,
    out: Path | None,
    options: Options,
    *,
    replace: bool,
    progress: Callable[[], AbstractContextManager[Progress]],
    scheduler: str = "",
    workers: int | None = None,
) -> FolderBuilt:
    """Build a reach folder with all cores, unless the build in its place is up to date.

    Parameters
    ----------
    folder
        The reach folder.
    out, options, replace
        As for `place_for`.
    progress
        Returns a context with the progress callback (step, done, total); entered only where there
        is something to build.
    scheduler
        Address of a Dask scheduler that solves the flows; empty for this machine.
    workers
        Processes that may read flows side by side; None for one a core.

    Raises
    ------
    ReachmapError
        If the angler can mend it; nothing half-written stays.
    """
    settled = settled_folder(folder, out)
    cell_m = known_cell(options, folder, out)
    if cell_m is not None:
        place = place_for(folder, out, options, replace=replace, cell_m=cell_m)
        report = current_report(folder, place.folder, options)
        if report is not None:
            return FolderBuilt(report, place, fresh=False)
    from reachmap.markup import read_markup
    from reachmap.pipeline.build_reach import build_placed

    standing = Standing.read(settled)
    with progress() as report_step:
        report_step("reading the drawing", 0, 1)
        made, place = build_placed(
            read_markup(folder),
            out,
            options,
            replace=replace,
            progress=report_step,
            workers=workers or os.cpu_count() or 1,
            scheduler=scheduler,
        )
    change = standing.change(made.report) if place.folder == standing.folder else None
    return FolderBuilt(made.report, place, fresh=True, change=change)
