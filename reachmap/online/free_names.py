"""Names for fetched files: what the angler made is never written over."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from reachmap.base.csv_cells import read_cell
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.markup.files import SOURCES_FILE


def free_name(folder: Path, name: str) -> Path:
    """Return where a fetched file goes: its name, or one with a number where that is the angler's.

    A file that was fetched under that name before is replaced: it is the same thing, newer.

    Parameters
    ----------
    folder
        The reach folder.
    name
        Of the file in it.
    """
    fetched = fetched_names(folder)
    path = folder / name
    stem, ending = path.stem, path.suffix
    number = 2
    while path.exists() and path.name not in fetched:
        path = folder / f"{stem}-{number}{ending}"
        number += 1
    return path


def fetched_names(folder: Path) -> frozenset[str]:
    """Return the files that sources.csv says were fetched; none where it cannot be read."""
    try:
        text = read_text(folder / SOURCES_FILE, FileKind.TEXT, folder)
        rows = [row for row in csv.reader(io.StringIO(text)) if row]
    except (OSError, RefusedError, csv.Error):
        return frozenset()
    return frozenset(read_cell(row[0]) for row in rows[1:])
