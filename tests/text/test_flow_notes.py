"""Every note of the flow stage has its sentence, in the folder's units."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from reachmap.base.words import UnitSystem
from reachmap.flow.notes import VALUES, FlowNote, NoteKind, notes_of, one_flow_of, with_notes
from reachmap.text.flow_notes import SENTENCES, between_words, flow_note_text

TRIBUTARY = FlowNote(NoteKind.TRIBUTARY, None, 120.0, (0.3,), "Creek")
SOLVED = FlowNote(NoteKind.SOLVED, 68.0, None, (14.0, 0.0012, 0.0004, 0.0015), "implicit")
CUT = FlowNote(NoteKind.CUT, 68.0, 667.0, (0.0002, 0.0031))


@pytest.mark.parametrize(
    ("note", "sentence"),
    [
        (
            TRIBUTARY,
            "Creek brings 30 % of the flow and joins 120 m down the line; above it the river "
            "carries that much less.",
        ),
        (
            SOLVED,
            "68m3s: solved in 14 cycles (implicit); the worst section's discharge is 0.12 % off; a "
            "cycle still moves depth by 0.4 mm and speed by 0.15 cm/s.",
        ),
        (
            CUT,
            "68m3s: worked out in pieces; at the cut 667 m down the line the two sides differ by "
            "0.2 mm in level and 0.31 cm/s in speed.",
        ),
    ],
    ids=["tributary", "solved", "cut"],
)
def test_a_note_in_words(note, sentence):
    assert flow_note_text(note, UnitSystem.METRIC) == sentence


def test_the_flow_is_named_in_the_folders_units():
    assert flow_note_text(SOLVED, UnitSystem.US).startswith("2401cfs: solved in")


def test_every_kind_has_a_sentence_that_says_its_values():
    assert set(SENTENCES) == set(NoteKind)
    for kind in NoteKind:
        one, other = (
            flow_note_text(
                FlowNote(kind, 5.0, 10.0, tuple(first + i for i in range(len(VALUES[kind])))),
                UnitSystem.METRIC,
            )
            for first in (1.0, 5.0)
        )
        assert (one != other) == bool(VALUES[kind])


def test_notes_are_kept_with_a_dataset_and_stored(tmp_path):
    flowing = xr.Dataset(coords={"flow": [5.0, 68.0]})
    narrow = FlowNote(NoteKind.NARROW, 5.0)
    noted = with_notes(flowing, [TRIBUTARY, SOLVED, narrow, narrow])
    noted.to_netcdf(tmp_path / "flow.nc")
    with xr.open_dataset(tmp_path / "flow.nc") as stored:
        assert notes_of(stored) == (TRIBUTARY, SOLVED, narrow)
        assert notes_of(one_flow_of(stored, 0)) == (TRIBUTARY, narrow)
    assert notes_of(with_notes(noted, ())) == ()
    assert np.isnan(noted["note_station"].to_numpy()[1])


def test_a_note_with_the_wrong_values_is_refused():
    with pytest.raises(ValueError, match="tributary"):
        FlowNote(NoteKind.TRIBUTARY, None, 120.0)


def test_how_far_off_flows_between_are_is_told_with_the_worst_of_the_gaps():
    told = between_words(
        [20.0, 30.0, 45.0], np.array([[0.004, 0.01], [0.008, 0.03]]), UnitSystem.METRIC
    )
    assert "solved at 20 m³/s, 30 m³/s and 45 m³/s;" in told
    assert "within 0.8 cm of depth and 3.0 cm/s of speed" in told
    us = between_words([20.0, 30.0, 45.0], np.array([[0.0254, 0.3048], [0.0, 0.0]]), UnitSystem.US)
    assert "within 1.0 in of depth and 1.00 ft/s of speed" in us
    assert "not known" in between_words([20.0, 45.0], np.full((1, 2), np.nan), UnitSystem.METRIC)
