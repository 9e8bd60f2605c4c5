"""Write-ahead journal: the drawing as last sent, kept until it is in the GeoPackage.

It is small and quick to write, so that a save survives a crash in the middle of the slower writing
of the GeoPackage. It also keeps the unfinished line, which the drawing's file cannot hold.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from reachmap.base.cache import write_aside
from reachmap.web.editor.schema import Mark, MessageError, parsed, read_mark

JOURNAL = ".drawing-unsaved.json"
"""The journal's name in the reach folder; gone when everything is in the drawing."""

FORMAT = 1


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """Content of the journal.

    Parameters
    ----------
    base
        SHA-256 of the drawing's file that the marks come after, "" where there was none.
    marks
        The whole drawing; None where the file holds it already.
    draft
        The unfinished line.
    """

    base: str
    marks: tuple[Mark, ...] | None
    draft: Mark | None


def note(folder: Path, noted: JournalEntry) -> None:
    """Write the journal, whole or not at all, synced to the disk."""
    message = {
        "format": FORMAT,
        "base": noted.base,
        "marks": None if noted.marks is None else _all_json(noted.marks),
        "draft": None if noted.draft is None else noted.draft.as_json(),
    }
    text = json.dumps(message)

    def write(aside: Path) -> None:
        with aside.open("w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())

    write_aside(folder / JOURNAL, write)


def journal_in(folder: Path) -> JournalEntry | None:
    """Return the journal's content; None where there is none.

    Raises
    ------
    MessageError
        If it cannot be read.
    """
    try:
        body = (folder / JOURNAL).read_bytes()
    except FileNotFoundError:
        return None
    message = parsed(body)
    if message.get("format") != FORMAT or not isinstance(message.get("base"), str):
        msg = f"{JOURNAL} is not a journal of this program."
        raise MessageError(msg)
    marks, draft = message.get("marks"), message.get("draft")
    return JournalEntry(
        base=message["base"],
        marks=None if marks is None else tuple(read_mark(item) for item in marks),
        draft=None if draft is None else read_mark(draft, whole=False),
    )


def forget(folder: Path) -> None:
    """Delete the journal: everything is in the drawing."""
    (folder / JOURNAL).unlink(missing_ok=True)


def keep_copy(folder: Path, copy: Mapping[str, object]) -> Path:
    """Store a drawing that a page discards, as GeoJSON for a later import; return its file.

    Raises
    ------
    MessageError
        If it is no collection of features.
    """
    if copy.get("type") != "FeatureCollection" or not isinstance(copy.get("features"), list):
        msg = "What the page set aside is not a drawing."
        raise MessageError(msg)
    number = 1
    while (target := folder / f"drawing-set-aside-{number}.geojson").exists():
        number += 1
    text = json.dumps(copy, indent=1)
    return write_aside(target, lambda aside: aside.write_text(text, encoding="utf-8"))


def set_aside(folder: Path) -> Path:
    """Rename a journal that belongs to no drawing; return its new path."""
    number = 1
    while (target := folder / f"drawing-brought-back-{number}.json").exists():
        number += 1
    (folder / JOURNAL).replace(target)
    return target


def _all_json(marks: Sequence[Mark]) -> list[dict[str, object]]:
    """Return marks as JSON takes them."""
    return [mark.as_json() for mark in marks]
