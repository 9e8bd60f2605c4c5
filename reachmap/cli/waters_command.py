"""`reachmap build` and `reachmap days` of a folder that holds several reach folders."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reachmap.base.errors import Fault, MarkupError, ReachmapError
from reachmap.cli import say

if TYPE_CHECKING:
    from reachmap.pipeline.stamp import Options
    from reachmap.pipeline.waters import WaterBuilt
    from reachmap.reach.days import DaysAsked


def refuse_one_river(given: Mapping[str, Any]) -> None:
    """Refuse options of a single river where a folder holds several.

    Raises
    ------
    MarkupError
        Naming each of them that was given.
    """
    fix = "Leave it out, or name one of the reach folders"
    found = "it is of one river, and this folder holds several"
    faults = [Fault(name, found, fix) for name, value in given.items() if value]
    if faults:
        raise MarkupError(faults)


def build_several(folder: Path, options: Options, *, scheduler: str, workers: int) -> None:
    """Build every reach of a folder; failures are reported at the end, the other builds stay."""
    from reachmap.markup.waters import read_waters
    from reachmap.pipeline.waters import build_waters
    from reachmap.text.cautions import TERMINAL
    from reachmap.text.waters_built import several_lines

    built = build_waters(
        read_waters(folder),
        options,
        progress=say.progress,
        done=_print_result,
        scheduler=scheduler,
        workers=workers,
    )
    failed = {one.water.folder.name: one.error for one in built if one.error is not None}
    say.lines([*several_lines(folder, len(built), len(failed)), TERMINAL])
    _end(failed)


def _print_result(one: WaterBuilt) -> None:
    """Print the result of one water."""
    from reachmap.text.waters_built import built_line

    if one.built is not None:
        say.line(built_line(one.water, one.built.report, one.built.place.folder, one.built.fresh))


def days_of_several(folder: Path, options: DaysAsked) -> None:
    """Print which of the waters to drive to on which of the coming days."""
    from reachmap.outputs.waters_page import write_week
    from reachmap.reach.waters import coming_week
    from reachmap.text.cautions import TERMINAL
    from reachmap.text.waters_built import trouble_words
    from reachmap.text.waters_table import waters_shown

    with say.progress() as progress:
        week = coming_week(folder, options, progress=progress, workers=os.cpu_count() or 1)
    notes = [water.note for water in week.waters]
    say.shown(waters_shown(week.home, week.table, week.days, week.drives, week.units, notes))
    failed = {water.folder.name: error for water, error in week.failed}
    words = tuple((name, trouble_words(error)) for name, error in failed.items())
    paths = write_week(folder, week.home, week.table, week.waters, week.days, week.units, words)
    say.lines([f"Wrote {paths[0]}, and days.html of each water", TERMINAL])
    _end(failed)


def _end(failed: Mapping[str, Exception]) -> None:
    """Print the failures and exit with their code: 2 yours to mend, 1 a bug of ours."""
    from reachmap.text.waters_built import trouble_words

    for name, error in failed.items():
        say.trouble(f"{name}: {trouble_words(error)}")
    if failed:
        ours = [
            error for error in failed.values() if not isinstance(error, ReachmapError | OSError)
        ]
        for error in ours:
            say.trouble(say.kept_fault(error))
        sys.exit(say.OUR_FAULT if ours else say.YOURS_TO_MEND)
