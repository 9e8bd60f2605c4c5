"""Notes of clarity, the folder's and the log's, and what they say of the river by its flow."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.base.words import UnitSystem
from reachmap.gauge.clarity import fit_clarity
from reachmap.gauge.clarity_data import ClarityNote
from reachmap.gauge.clarity_notes import read_notes, with_record
from reachmap.gauge.flow_clarity import FlowClarity, river_clarity
from reachmap.gauge.series import NOTHING, Series
from reachmap.logbook.store import kept_in
from reachmap.markup.files import CLARITY_FILES
from reachmap.markup.middle import place_of
from reachmap.markup.model import Markup
from reachmap.planner.sun import zone_at


def notes_of_folder(
    folder: Path,
    units: UnitSystem,
    zone: ZoneInfo,
    record: Series,
    files: Sequence[Path] = (),
) -> list[ClarityNote]:
    """Return all notes of clarity: the folder's, those of named files, and the log's.

    Flow and limb are looked up in the record where a note does not give them.

    Raises
    ------
    MarkupError
        Listing every row that makes no sense.
    """
    notes: list[ClarityNote] = []
    faults: list[Fault] = []
    own = [(path, folder) for path in sorted(folder.glob(CLARITY_FILES))]
    named: list[tuple[Path, Path | None]] = [*own, *((path, None) for path in files)]
    for path, home in named:
        try:
            text = read_text(path, FileKind.TEXT, home)
        except RefusedError as error:
            faults.append(Fault(path.name, error.found, error.fix))
            continue
        found, wrong = read_notes(path.name, text, units, zone)
        notes += found
        faults += wrong
    if faults:
        raise MarkupError(faults)
    return with_record([*notes, *_logged(folder)], record)


def noted_clarity(reach: Markup) -> FlowClarity | None:
    """Return clarity by flow as the folder's notes bear it; None where they bear none.

    Raises
    ------
    MarkupError
        Listing every row of the notes that makes no sense.
    """
    if reach.folder is None:
        return None
    zone = zone_at(*place_of(reach))
    gauge = reach.gauge
    record = NOTHING if gauge is None else Series(gauge.times, gauge.flow)
    return river_clarity(fit_clarity(notes_of_folder(reach.folder, reach.plan.units, zone, record)))


def _logged(folder: Path) -> list[ClarityNote]:
    """Return the log's entries that say how far one saw."""
    return [
        ClarityNote(
            entry.clarity_m,
            entry.flow,
            when=np.datetime64(int(entry.when.timestamp()), "s"),
        )
        for entry in kept_in(folder)
        if entry.clarity_m > 0
    ]
