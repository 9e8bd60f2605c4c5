"""The note of where fetched files came from: sources.csv in the reach folder."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.base.csv_cells import escaped_cell
from reachmap.base.safe_files import FileKind, read_limited
from reachmap.markup.files import SOURCES_FILE
from reachmap.online.box import Box
from reachmap.online.model import Got

COLUMNS = (
    "file", "what", "title", "address", "fetched", "box", "date", "resolution_m",
    "vertical_datum", "licence",
)  # fmt: skip


def note_sources(folder: Path, got: Sequence[Got], box: Box, when: datetime) -> Path:
    """Add a row for each file to the note; rows of before stay as they are.

    Parameters
    ----------
    folder
        The reach folder.
    got
        What was fetched.
    box
        What was asked about.
    when
        UTC.
    """
    path = folder / SOURCES_FILE
    before = read_limited(path, FileKind.TEXT, folder) if path.is_file() else b""
    made = io.StringIO()
    rows = csv.writer(made, lineterminator="\n")
    if not before.strip():
        rows.writerow(COLUMNS)
    for one in got:
        for file in one.files:
            offer = one.offer
            cells = (
                file.relative_to(folder).as_posix(), offer.kind.value, offer.title, one.address,
                f"{when:%Y-%m-%dT%H:%MZ}", " ".join(f"{edge:g}" for edge in box.bounds),
                offer.date, "" if math.isnan(offer.resolution_m) else f"{offer.resolution_m:g}",
                offer.vertical_datum, offer.licence,
            )  # fmt: skip
            # a box begins with a minus sign as often as not: a number to a spreadsheet, no formula
            rows.writerow(
                [cell if index == 5 else escaped_cell(cell) for index, cell in enumerate(cells)]
            )
    joint = b"" if not before or before.endswith(b"\n") else b"\n"
    body = before + joint + made.getvalue().encode("utf-8")
    return write_aside(path, lambda aside: aside.write_bytes(body))
