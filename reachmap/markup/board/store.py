"""The drawing while the page is open: one version at a time, on the disk at every moment."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from reachmap.base.errors import ReachmapError
from reachmap.base.words import UnitSystem
from reachmap.markup.board import journal
from reachmap.markup.board.file import Opened, digest_of, open_drawing, sweep
from reachmap.markup.board.journal import Noted
from reachmap.markup.board.rows import Kept, cell_text, rows_of, typed
from reachmap.markup.board.wire import Mark, Sent, WireError
from reachmap.markup.layers import LAYER_FIELDS, LAYER_NAMES
from reachmap.markup.write import MARKUP_FILE, write_layers

SAME_PLACE = 1e-8
"""Places nearer than this count as the same [degrees]: about a millimetre."""


class StaleError(ReachmapError):
    """The change was made from another state of the drawing than the one on the disk."""


@dataclass(frozen=True, slots=True)
class Settled:
    """What was settled when the drawing was opened: a sentence for the angler, "" for none."""

    said: str = ""


class Board:
    """One reach folder's drawing, opened for the page.

    Every change is noted in a small file first, then written into the GeoPackage by way of a copy
    beside it; a program that is ended at any moment leaves the one or the other whole.
    """

    def __init__(self, folder: Path, *, units: UnitSystem, spare_crs: str = "") -> None:
        """Open the drawing and bring back what an ended program had not yet written."""
        self.folder = folder
        self.units = units
        self.spare_crs = spare_crs
        self.version = 1
        self.draft: Mark | None = None
        self.settled = Settled()
        self.lock = threading.RLock()
        sweep(folder)
        self._take(open_drawing(folder, spare_crs))
        self._bring_back()

    def _take(self, opened: Opened) -> None:
        """Make an opened drawing the one in hand."""
        self.sheets = opened.sheets
        self.elsewhere = opened.elsewhere
        self._digest = opened.digest
        self._kept = {one.mark.id: one for one in opened.kept}

    @property
    def kept(self) -> tuple[Kept, ...]:
        """Return every mark with its row."""
        with self.lock:
            return tuple(self._kept.values())

    def as_json(self) -> dict[str, Any]:
        """Return the drawing as the page takes it; what was settled is said once."""
        with self.lock:
            said, self.settled = self.settled.said, Settled()
            return {
                "version": self.version,
                "marks": [one.mark.as_json() for one in self._kept.values()],
                "draft": None if self.draft is None else self.draft.as_json(),
                "elsewhere": [
                    {"file": file, "marks": [one.mark.as_json() for one in kept]}
                    for file, kept in self.elsewhere.items()
                ],
                "said": said,
            }

    def save(self, sent: Sent) -> int:
        """Keep a drawing the page sent and return its version.

        Raises
        ------
        StaleError
            If it was made from another version, or the file was changed by another program.
        WireError
            If it has a layer this folder's file cannot take.
        MarkupError
            If another program has the file open; the notebook then still holds the change.
        """
        with self.lock:
            self.must_be(sent.version)
            if digest_of(self.folder / MARKUP_FILE) != self._digest:
                msg = (
                    f"{MARKUP_FILE} was changed by another program since this page was opened. "
                    "Load it again; you can keep a copy of what you see here."
                )
                raise StaleError(msg)
            self._keep(sent.marks, sent.draft)
            self.version += 1
            return self.version

    def must_be(self, version: int) -> None:
        """Refuse a change made from another version than the one in hand."""
        if version != self.version:
            msg = (
                "This drawing was changed in another tab or window. Load it again here; "
                "you can keep a copy of what you see."
            )
            raise StaleError(msg)

    def changed(self) -> int:
        """Return the next version, after a change of something beside the drawing."""
        with self.lock:
            self.version += 1
            return self.version

    def reload(self) -> None:
        """Open the drawing again, after another program changed it."""
        with self.lock:
            self._take(open_drawing(self.folder, self.spare_crs))
            self.version += 1

    def changed_outside(self) -> bool:
        """Return whether another program changed the file since it was opened or written here."""
        with self.lock:
            return digest_of(self.folder / MARKUP_FILE) != self._digest

    def _keep(self, marks: Sequence[Mark], draft: Mark | None) -> None:
        """Note a drawing, write the layers that changed, and forget the note."""
        strange = {mark.layer for mark in marks} - set(self.sheets)
        if strange:
            msg = f"The file's layer {', '.join(sorted(strange))} says no CRS: give it one first."
            raise WireError(msg)
        before = {name: [m for m in self._marks() if m.layer == name] for name in LAYER_NAMES}
        after = {name: [mark for mark in marks if mark.layer == name] for name in LAYER_NAMES}
        layers = [name for name in LAYER_NAMES if before[name] != after[name]]
        if layers:
            homed = tuple(self._homed(mark) for mark in marks)
            journal.note(self.folder, Noted(self._digest, homed, self._homed_draft(draft)))
            self._write(layers, after)
        self.draft = draft
        if draft is not None:
            journal.note(self.folder, Noted(self._digest, None, self._homed_draft(draft)))
        else:
            journal.forget(self.folder)

    def _write(self, layers: Sequence[str], after: dict[str, list[Mark]]) -> None:
        """Write layers into the file and take their new rows over."""
        frames, kept = {}, dict(self._kept)
        for name in layers:
            frames[name], rows = rows_of(self.sheets[name], after[name], self._kept, self.units)
            kept = {id_: one for id_, one in kept.items() if one.mark.layer != name}
            kept |= {one.mark.id: one for one in rows}
        path = self.folder / MARKUP_FILE
        write_layers(path, frames)
        self._digest = digest_of(path)
        order = {name: index for index, name in enumerate(LAYER_NAMES)}
        self._kept = dict(sorted(kept.items(), key=lambda item: order[item[1].mark.layer]))

    def _marks(self) -> list[Mark]:
        """Return every mark in hand."""
        return [one.mark for one in self._kept.values()]

    def _homed(self, mark: Mark) -> Mark:
        """Return a mark under the name that its row in the file goes by when it is read again."""
        old = self._kept.get(mark.id)
        return mark if old is None else replace(mark, id=old.home)

    def _homed_draft(self, draft: Mark | None) -> Mark | None:
        """Return the line begun, likewise."""
        return None if draft is None else self._homed(draft)

    def _bring_back(self) -> None:
        """Take over what the notebook holds, where it fits the drawing in the file."""
        try:
            noted = journal.noted_in(self.folder)
        except WireError:
            self.settled = Settled(_set_aside(self.folder))
            return
        if noted is None:
            return
        if noted.marks is None or noted.base != self._digest:
            if noted.marks is not None and not _same(noted.marks, self._marks(), self.units):
                self.settled = Settled(_set_aside(self.folder))
                return
            self.draft = noted.draft
            if noted.draft is None:
                journal.forget(self.folder)
            return
        self._keep(noted.marks, noted.draft)
        said = "The program was ended while it was saving. Everything you had drawn is here again."
        self.settled = Settled(said)


def _set_aside(folder: Path) -> str:
    """Keep a notebook that fits nothing and return what to say of it."""
    target = journal.set_aside(folder)
    return (
        f"Changes that had not been saved do not fit {MARKUP_FILE} any more: another program "
        f"changed it since. They are kept in {target.name}; nothing was overwritten."
    )


def _same(noted: Sequence[Mark], filed: Sequence[Mark], units: UnitSystem) -> bool:
    """Return whether a file holds what was noted, whatever the ids, to a millimetre."""
    one, other = (_by_layer(marks) for marks in (noted, filed))
    return len(one) == len(other) and all(
        (a.layer, a.shape) == (b.layer, b.shape)
        and [len(path) for path in a.paths] == [len(path) for path in b.paths]
        and np.allclose(_flat(a), _flat(b), rtol=0, atol=SAME_PLACE)
        and _values(a, units) == _values(b, units)
        for a, b in zip(one, other, strict=True)
    )


def _by_layer(marks: Sequence[Mark]) -> list[Mark]:
    """Return marks in the order in which the file holds them."""
    return sorted(marks, key=lambda mark: LAYER_NAMES.index(mark.layer))


def _flat(mark: Mark) -> list[float]:
    """Return a mark's coordinates one after the other."""
    return [number for path in mark.paths for corner in path for number in corner]


def _values(mark: Mark, units: UnitSystem) -> dict[str, str]:
    """Return a mark's fields as the file would give them back."""
    fields = LAYER_FIELDS[mark.layer].fields
    return {one.name: cell_text(typed(one, mark.values[one.name], units)) for one in fields}
