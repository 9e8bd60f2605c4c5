"""Every note of the ground stage has its sentence, in the folder's units, and is stored."""

from __future__ import annotations

import pytest

from reachmap.base.words import UnitSystem
from reachmap.ground.notes import (
    ATTRIBUTE,
    GroundNote,
    GroundNoteKind,
    ground_notes_of,
    packed_notes,
)
from reachmap.text.ground_notes import SENTENCES, ground_notes_text, ground_sentences

LEVELS = GroundNote(GroundNoteKind.LEVELS_NOTED, (25.485161932800004, 67.96043182080001))
"""Levels noted at 900 and 2,400 cfs."""
STONES = GroundNote(GroundNoteKind.STONES, (0.254, 0.6096), ("cobble",))
NAMES = {
    GroundNoteKind.HEIGHT_UNIT_UNSAID: ("ft",),
    GroundNoteKind.HEIGHT_UNIT_OF_SOME_UNSAID: ("ft", "a.tif"),
}


@pytest.mark.parametrize(
    ("note", "us", "metric"),
    [
        (LEVELS, "at 900 cfs and 2,400 cfs was noted", "at 25.5 m\u00b3/s and 68 m\u00b3/s was"),
        (STONES, "Stones of 10 in, for a bed of cobble", "Stones of 25.4 cm, for a bed of cobble"),
        (STONES, "water 2 ft deep", "water 0.6 m deep"),
        (
            GroundNote(GroundNoteKind.DEM_OFF, (30.48,), ("east",)),
            "lies about 100 ft east of",
            "lies about 30.5 m east of",
        ),
        (
            GroundNote(GroundNoteKind.HEIGHTS_LOCAL, (100.0, 0.002)),
            "328 ft at the head, with a slope of 0.002",
            "100 m at the head, with a slope of 0.002",
        ),
        (
            GroundNote(GroundNoteKind.TRACED_FLOW_ASSUMED, (67.96043182080001,)),
            "the lowest flow to map, 2,400 cfs, is taken",
            "the lowest flow to map, 68 m\u00b3/s, is taken",
        ),
    ],
)
def test_numbers_are_said_in_the_folders_units(note, us, metric):
    for units, words in ((UnitSystem.US, us), (UnitSystem.METRIC, metric)):
        (said,) = ground_notes_text([note], units)
        assert words in said


@pytest.mark.parametrize("kind", GroundNoteKind)
def test_every_kind_has_a_sentence_that_says_its_names(kind):
    note = GroundNote(kind, (0.5, 0.25), NAMES.get(kind, ("one", "two")))
    (said,) = ground_notes_text([note], UnitSystem.METRIC)
    assert said[0].isupper()
    assert said.endswith(".")
    assert ("feet" in said) == (kind in NAMES)
    assert set(SENTENCES) == set(GroundNoteKind)


def test_of_many_banks_the_first_are_named():
    names = tuple("abcdefghi")
    (said,) = ground_notes_text(
        [GroundNote(GroundNoteKind.COVER_HEIGHT_USUAL, names=names)], UnitSystem.US
    )
    assert said.startswith("Cover of a, b, c, d, e, f and 3 more was given")


def test_notes_are_stored_once_and_come_after_what_disagrees():
    stored = {ATTRIBUTE: packed_notes([LEVELS, STONES, LEVELS]), "notes": "It disagrees.\n"}
    assert ground_notes_of(stored) == (LEVELS, STONES)
    assert ground_notes_of({}) == ()
    said = ground_sentences(stored, UnitSystem.US)
    assert [said[0], len(said)] == ["It disagrees.", 3]
    assert ground_sentences({}, UnitSystem.US) == []
