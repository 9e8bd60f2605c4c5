"""Bringing entries into the log of a reach folder from a file; what is doubtful is asked about."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from reachmap.base.errors import Fault
from reachmap.base.safe_files import FileKind, read_text
from reachmap.base.units import LENGTH, to_si
from reachmap.base.words import UnitSystem
from reachmap.logbook.clock import AHEAD
from reachmap.logbook.exchange import from_csv, from_geojson
from reachmap.logbook.importing import Doubt, DoubtKind, Imported
from reachmap.logbook.model import Entry
from reachmap.logbook.rows import RowsError
from reachmap.logbook.schema import back_up
from reachmap.logbook.store import FILE, TripLog
from reachmap.markup.files import folder_units
from reachmap.markup.gauge_of_folder import GaugeBook
from reachmap.pipeline.run_book import RunBook
from reachmap.text.log_import import doubt_words, how_to_keep

Confirm = Callable[[str], bool]
"""Callback that puts a question to the person at the terminal; True for yes."""


def import_file(
    folder: Path, source: Path, *, sure: bool = False, confirm: Confirm | None = None
) -> Imported:
    """Keep the entries of a CSV, GeoJSON or GPX file in the folder's log.

    An entry whose id is in the log already is left as it is there. A flow that is not in the file
    is looked up in the folder's gauge record, as for an entry that is typed. An entry that names
    no run of the river, lies far from it, or is ahead of the clock is asked about; the others are
    kept whatever the answer. A waypoint that says nothing is left out, not the file.

    Parameters
    ----------
    folder, source
        The reach folder, and the file.
    sure
        Whether every entry is kept as it is, without a question.
    confirm
        Puts a question to the person at the terminal; None where none can be put: then an entry
        that would be asked about is not kept.

    Raises
    ------
    FaultsError
        Listing every row that cannot be read; then no row is kept.
    """
    book, units = RunBook(folder), folder_units(folder)
    entries, unread = _read(source, units)
    answer = _asked_once(confirm)
    kept, unasked, refused = list(entries), [], 0
    if not sure:
        kept = []
        for number, entry in enumerate(entries, start=1):
            doubts = _doubts(entry, book)
            where = f"entry {number} ({entry.when:%Y-%m-%d %H:%M})"
            questions = [doubt_words(one, entry, units) for one in doubts]
            if questions and confirm is None:
                unasked.append(Fault(where, " ".join(questions), how_to_keep(doubts)))
            elif all(answer(where, one) for one in questions):
                kept.append(_corrected(entry, doubts))
            else:
                refused += 1
    if not kept and unread:
        raise RowsError([*unread, *unasked])
    new = _keep(folder, kept, book) if kept else 0
    return Imported(len(entries) + len(unread), new, tuple(unread), tuple(unasked), refused)


def _asked_once(confirm: Confirm | None) -> Callable[[str, str], bool]:
    """Return a callback (where, question) that puts each question once: a name stands for all."""
    answers: dict[str, bool] = {}

    def answer(where: str, question: str) -> bool:
        if question not in answers:
            answers[question] = confirm is not None and confirm(f"{where}: {question}")
        return answers[question]

    return answer


def _read(source: Path, units: UnitSystem) -> tuple[list[Entry], list[Fault]]:
    """Return the entries of a file, and what is wrong with waypoints that none can be made of."""
    text = read_text(source, FileKind.TEXT)
    ending = source.suffix.lower()
    if ending == ".gpx":
        from reachmap.logbook.waypoints import from_gpx

        return from_gpx(text, length=lambda value: to_si(value, LENGTH[units]))
    if ending == ".csv":
        return from_csv(text, local=datetime.astimezone), []
    return from_geojson(text, local=datetime.astimezone), []


def _doubts(entry: Entry, book: RunBook) -> list[Doubt]:
    """Return what there is to ask about an entry: its time, its place and its run."""
    ahead = entry.when > datetime.now().astimezone() + AHEAD
    return [*([Doubt(DoubtKind.AHEAD)] if ahead else []), *book.doubts(entry)]


def _corrected(entry: Entry, doubts: Sequence[Doubt]) -> Entry:
    """Return an entry under the name of the run that a yes stands for."""
    meant = next((one.run for one in doubts if one.run), "")
    return replace(entry, run=meant) if meant else entry


def _keep(folder: Path, entries: Sequence[Entry], book: RunBook) -> int:
    """Add entries to the log, its last copy put by; return how many were not in it."""
    if (folder / FILE).is_file():
        back_up(folder / FILE)
    gauge = GaugeBook(folder)
    rated = [_with_flow(one, gauge) for one in entries]
    placed = [one if math.isfinite(one.station_m) else book.placed(one) for one in rated]
    with TripLog(folder / FILE) as log:
        return log.add(*placed)


def _with_flow(entry: Entry, gauge: GaugeBook) -> Entry:
    """Return an entry with the flow of the gauge's record at its time, where it has none."""
    if math.isfinite(entry.flow):
        return entry
    flow = gauge.flow_at(entry.when)
    return entry if math.isnan(flow) else replace(entry, flow=flow, flow_from="gauge")
