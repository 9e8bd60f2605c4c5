"""Which notes an answer carries."""

from __future__ import annotations

from reachmap.flow.notes import NoteKind, notes_of


def kinds(answer) -> list[NoteKind]:
    """Return the kinds of an answer's notes, in order."""
    return [note.kind for note in notes_of(answer)]


def the_note(answer, kind: NoteKind):
    """Return the one note of a kind."""
    (note,) = (note for note in notes_of(answer) if note.kind == kind)
    return note
