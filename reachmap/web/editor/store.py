"""Versioned store of the drawing while the editor is open; every version is on the disk."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError

from reachmap.base.disk import database_words, refusal_words
from reachmap.base.errors import ReachmapError
from reachmap.base.lock import locked
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import LAYER_NAMES
from reachmap.markup.write import MARKUP_FILE, write_layers
from reachmap.web.editor import journal
from reachmap.web.editor.drawing_file import Opened, digest_of, open_drawing, sweep
from reachmap.web.editor.journal import JournalEntry
from reachmap.web.editor.recovered import same_drawing, set_aside_words
from reachmap.web.editor.rows import StoredMark, rows_of, with_units
from reachmap.web.editor.schema import DrawingMessage, Mark, MessageError

LOCK = ".drawing.lock"
"""Lock file of a reach folder's drawing: one process saves at a time."""

LOCK_WAIT_S = 10.0
"""How long a save waits for that of another process [s] (our choice, 2-30)."""

UNSEEN = "?"
"""Digest that no file has: what is on the disk must be loaded before anything is saved."""

CANNOT_WRITE = (sqlite3.Error, DataSourceError, DataLayerError, FeatureError, GeometryError)
"""What the libraries raise where the GeoPackage cannot be written: most often a full disk."""


class StaleError(ReachmapError):
    """The change was made from an older version of the drawing than the one on the disk."""


class KeepError(ReachmapError):
    """The drawing could not be written; what was on the disk is still there, whole."""


@dataclass(frozen=True, slots=True)
class Settled:
    """What was settled when the drawing was opened: a sentence for the angler, "" for none."""

    said: str = ""


class DrawingStore:
    """One reach folder's drawing, opened for editing.

    Every change is noted in a small file first, then written into the GeoPackage by way of a copy
    beside it; a program that is ended at any moment leaves the one or the other whole. From the
    look at what is on the disk to the rename of the copy a save holds the folder's lock, so that
    no two processes save over each other.
    """

    def __init__(self, folder: Path, *, units: UnitSystem, spare_crs: str = "") -> None:
        """Open the drawing and recover what a killed program had not written yet."""
        self.folder = folder
        self.units = units
        self.spare_crs = spare_crs
        self.version = 1
        self.draft: Mark | None = None
        self.settled = Settled()
        self._waiting, self._noted = False, UNSEEN
        self.lock = threading.RLock()
        with self.alone(must=False):
            sweep(folder)
            self._load()

    @contextmanager
    def alone(self, *, must: bool = True) -> Iterator[None]:
        """Lock the drawing against other threads and processes.

        Parameters
        ----------
        must
            False to go on without the lock where it cannot be made, to open a folder that may not
            be written.

        Raises
        ------
        HeldError
            If another process holds it for longer than `LOCK_WAIT_S`.
        """
        with self.lock, ExitStack() as held:
            try:
                lock = locked(self.folder / LOCK, "a save of the drawing", wait_s=LOCK_WAIT_S)
                held.enter_context(lock)
            except OSError:
                if must:
                    raise
            yield

    def _load(self) -> None:
        """Read the drawing and the journal; the lock is held."""
        self._take(open_drawing(self.folder, self.spare_crs))
        self.draft = None
        self._bring_back()
        self._noted = UNSEEN if self._waiting else digest_of(self.folder / journal.JOURNAL)

    def _take(self, opened: Opened) -> None:
        """Make an opened drawing the present one."""
        self.sheets = opened.sheets
        self.elsewhere = opened.elsewhere
        self._digest = opened.digest
        self._kept = {one.mark.id: one for one in opened.kept}

    @property
    def kept(self) -> tuple[StoredMark, ...]:
        """Return every mark with its row."""
        with self.lock:
            return tuple(self._kept.values())

    def as_json(self) -> dict[str, Any]:
        """Return the drawing as the page takes it; what was settled is said once."""
        self._finish()
        with self.lock:
            said, self.settled = self.settled.said, Settled()
            return {
                "version": self.version,
                "marks": self.marks_json(),
                "draft": None if self.draft is None else self.draft.as_json(),
                "elsewhere": [
                    {"file": file, "marks": [one.mark.as_json() for one in kept]}
                    for file, kept in self.elsewhere.items()
                ],
                "said": said,
            }

    def marks_json(self) -> list[dict[str, Any]]:
        """Return every mark as the page takes it."""
        with self.lock:
            return [one.mark.as_json() for one in self._kept.values()]

    def save(self, sent: DrawingMessage) -> int:
        """Keep a drawing the page sent and return its version.

        Raises
        ------
        StaleError
            If it was made from another version, or another process changed the drawing or its
            notebook since they were read here.
        HeldError
            If another process is saving for longer than `LOCK_WAIT_S`.
        KeepError
            If it cannot be written; the journal then may hold the change.
        MessageError
            If it has a layer this folder's file cannot take.
        MarkupError
            If another program has the file open; the journal then still holds the change.
        """
        with self.alone():
            self.must_be(sent.version)
            self.must_be_here()
            self._keep(sent.marks, sent.draft)
            self.version += 1
            return self.version

    def must_be(self, version: int) -> None:
        """Raise for a change made from another version than the present one."""
        if version != self.version:
            msg = (
                "This drawing was changed in another tab or window. Load the newer drawing: what "
                "you drew here is set aside in the folder, and Undo brings it back."
            )
            raise StaleError(msg)

    def changed(self) -> int:
        """Return the next version, after a change of anything but the drawing."""
        with self.lock:
            self.version += 1
            return self.version

    def show_once(self, words: str) -> None:
        """Have the page show a sentence once, after those on what was settled."""
        self.settled = Settled(" ".join(part for part in (self.settled.said, words) if part))

    def reload(self, words: str = "") -> None:
        """Open the drawing again, after another program changed it; the page says `words` once."""
        with self.alone(must=False):
            self._load()
            self.show_once(words)
            self.version += 1

    def keep_copy(self, copy: Mapping[str, object]) -> str:
        """Keep a drawing that the page gives up for a newer one; return what to say of it."""
        path = journal.keep_copy(self.folder, copy)
        return (
            f"What you had drawn here is kept in {path.name}, and Undo brings it back onto the "
            "map; Redo takes the newer drawing again."
        )

    def changed_outside(self) -> bool:
        """Return whether another program changed the drawing, or noted something, since."""
        with self.lock:
            on_disk = (digest_of(self.folder / name) for name in (MARKUP_FILE, journal.JOURNAL))
            return tuple(on_disk) != (self._digest, self._noted)

    def change_units(self, units: UnitSystem, write: Callable[[], None]) -> None:
        """Convert every plain number drawn to other units, the lock held.

        The journal first holds every number with its unit behind, so that a program ended between
        the two files brings each back as what it was, whichever of the units it finds.

        `write` writes the new units into reach.toml.
        """
        self.must_be_here()
        before, draft = self._marks(), self.draft
        marks = [with_units(mark, self.units, units) for mark in before]
        if marks == before:
            write()
            self.units = units
            return
        self._note_all(marks, draft)
        try:
            write()
        except BaseException:
            self._note_draft(draft)
            raise
        self.units = units
        self._keep(marks, draft)
        self._take(open_drawing(self.folder, self.spare_crs))

    def _note_all(self, marks: Sequence[Mark], draft: Mark | None) -> None:
        """Note the whole drawing and the line begun."""
        homed = tuple(self._homed(mark) for mark in marks)
        journal.note(self.folder, JournalEntry(self._digest, homed, self._homed_draft(draft)))

    def _note_draft(self, draft: Mark | None) -> None:
        """Note the line begun alone: all else is in the drawing."""
        try:
            self.draft = draft
            if draft is None:
                journal.forget(self.folder)
            else:
                homed = self._homed_draft(draft)
                journal.note(self.folder, JournalEntry(self._digest, None, homed))
        finally:
            self._noted = digest_of(self.folder / journal.JOURNAL)

    def must_be_here(self) -> None:
        """Raise where another program changed the drawing since it was read."""
        if self.changed_outside():
            msg = (
                f"{MARKUP_FILE} was changed by another program or page since it was read here. "
                "Load the newer drawing: what you drew here is set aside in the folder, and "
                "Undo brings it back."
            )
            raise StaleError(msg)

    def _keep(self, marks: Sequence[Mark], draft: Mark | None) -> None:
        """Note a drawing, write the layers that changed, and forget the note."""
        strange = {mark.layer for mark in marks} - set(self.sheets)
        if strange:
            msg = f"The file's layer {', '.join(sorted(strange))} says no CRS: give it one first."
            raise MessageError(msg)
        before = {name: [m for m in self._marks() if m.layer == name] for name in LAYER_NAMES}
        after = {name: [mark for mark in marks if mark.layer == name] for name in LAYER_NAMES}
        layers = [name for name in LAYER_NAMES if before[name] != after[name]]
        try:
            if layers:
                self._note_all(marks, draft)
                self._waiting = True
                self._write(layers, after)
                self._waiting = False
            self._note_draft(draft)
        finally:
            self._noted = digest_of(self.folder / journal.JOURNAL)

    def _write(self, layers: Sequence[str], after: dict[str, list[Mark]]) -> None:
        """Write layers into the file and take their new rows over."""
        frames, kept = {}, dict(self._kept)
        for name in layers:
            frames[name], rows = rows_of(self.sheets[name], after[name], self._kept, self.units)
            kept = {id_: one for id_, one in kept.items() if one.mark.layer != name}
            kept |= {one.mark.id: one for one in rows}
        path = self.folder / MARKUP_FILE
        try:
            write_layers(path, frames)
        except CANNOT_WRITE as error:
            msg = f"{MARKUP_FILE} could not be written: {database_words(error)}"
            raise KeepError(msg) from None
        self._digest = digest_of(path)
        order = {name: index for index, name in enumerate(LAYER_NAMES)}
        self._kept = dict(sorted(kept.items(), key=lambda item: order[item[1].mark.layer]))

    def _marks(self) -> list[Mark]:
        """Return all present marks."""
        return [one.mark for one in self._kept.values()]

    def _homed(self, mark: Mark) -> Mark:
        """Return a mark under the name that its row in the file goes by when it is read again."""
        old = self._kept.get(mark.id)
        return mark if old is None else replace(mark, id=old.home)

    def _homed_draft(self, draft: Mark | None) -> Mark | None:
        """Return the line begun, likewise."""
        return None if draft is None else self._homed(draft)

    def _finish(self) -> None:
        """Write what a save noted but could not write, if there is such a thing."""
        with self.lock:
            waiting = self._waiting
        if waiting:
            self.reload()

    def _bring_back(self) -> None:
        """Recover the journal's drawing, where it belongs to the drawing in the file."""
        self._waiting = False
        try:
            noted = journal.journal_in(self.folder)
        except MessageError:
            self.settled = Settled(set_aside_words(self.folder))
            return
        if noted is None:
            return
        if noted.marks is None or noted.base != self._digest:
            if noted.marks is not None and not same_drawing(noted.marks, self._marks(), self.units):
                self.settled = Settled(set_aside_words(self.folder))
                return
            self.draft = noted.draft
            if noted.draft is None:
                journal.forget(self.folder)
            return
        try:
            self._keep(noted.marks, noted.draft)
        except (OSError, ReachmapError) as error:
            self._wait(error)
            return
        said = "A save had not been finished. Everything you had drawn is here again."
        self.settled = Settled(said)

    def _wait(self, error: Exception) -> None:
        """Keep the journal, and refuse saves until it is written."""
        self._waiting = True
        why = refusal_words(error) if isinstance(error, OSError) else str(error)
        self.settled = Settled(
            f"Your last changes are in {journal.JOURNAL} and cannot be written into the drawing "
            f"yet. {why} Then load this page again."
        )
