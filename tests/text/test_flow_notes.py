"""Every note of the flow stage has its sentence, in the folder's units."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from reachmap.base.words import UnitSystem
from reachmap.flow.notes import VALUES, FlowNote, NoteKind, notes_of, one_flow_of, with_notes
from reachmap.text.flow_notes import SENTENCES, between_words, flow_notes_text

TRIBUTARY = FlowNote(NoteKind.TRIBUTARY, None, 120.0, (0.3,), "Creek")
SOLVED = FlowNote(NoteKind.SOLVED, 68.0, None, (14.0, 0.0012, 0.0004, 0.0015), "implicit")
CUT = FlowNote(NoteKind.CUT, 68.0, 667.0, (0.0002, 0.0031))


def bend(flow, station, closure=0.0):
    return FlowNote(NoteKind.STRONG_BEND, flow, station, (0.12, 0.1, closure))


def test_a_note_in_words_of_the_folders_units():
    assert flow_notes_text([TRIBUTARY], UnitSystem.METRIC) == [
        "Creek joins 120 m below the top of the map and brings 30 % of the flow; above it the "
        "river carries that much less."
    ]
    assert "131 yd below the top" in flow_notes_text([TRIBUTARY], UnitSystem.US)[0]
    held = FlowNote(NoteKind.HELD_TO_WAVES, 68.0, None, (100.0,))
    assert flow_notes_text([held], UnitSystem.US) == [
        "At 2,401 cfs: over 120 sq yd of ledges and steep riffles the water may run thinner and "
        "faster than drawn."
    ]


def test_how_a_solve_ended_is_no_sentence_for_an_angler():
    assert flow_notes_text([SOLVED, CUT], UnitSystem.METRIC) == []
    assert set(SENTENCES) == set(NoteKind) - {NoteKind.SOLVED, NoteKind.CUT}


def test_what_several_flows_have_in_common_is_said_once():
    notes = [bend(50.0, 1136.0), SOLVED, bend(68.0, 1133.0), bend(90.0, 1133.0)]
    (said,) = flow_notes_text(notes, UnitSystem.METRIC)
    assert said == (
        "At 50 m\u00b3/s, 68 m\u00b3/s and 90 m\u00b3/s: in the bend 1136 m below the top of the "
        "map the water turns over strongly: expect it slower inside and faster outside than drawn."
    )
    apart = flow_notes_text([bend(50.0, 1136.0), bend(68.0, 1400.0)], UnitSystem.METRIC)
    assert [line.partition(":")[0] for line in apart] == ["At 50 m\u00b3/s", "At 68 m\u00b3/s"]
    everywhere = FlowNote(NoteKind.NARROW, 50.0)
    assert len(flow_notes_text([everywhere, bend(68.0, 1136.0)], UnitSystem.METRIC)) == 2
    here, there = (replace(TRIBUTARY, station=at) for at in (120.0, 130.0))
    assert len(flow_notes_text([here, there], UnitSystem.METRIC)) == 2


def test_of_several_flows_the_largest_figure_is_said():
    held = [FlowNote(NoteKind.HELD_TO_WAVES, q, None, (area,)) for q, area in [(50, 90), (68, 40)]]
    (said,) = flow_notes_text(held, UnitSystem.METRIC)
    assert "over 90 m\u00b2 of ledges" in said


@pytest.mark.parametrize("kind", SENTENCES)
def test_every_sentence_is_made_of_plain_words(kind):
    ones = tuple(1.0 + i for i in range(len(VALUES[kind])))
    (said,) = flow_notes_text([FlowNote(kind, 5.0, 10.0, ones)], UnitSystem.METRIC)
    assert said.endswith(".")
    assert not re.search("cycle|implicit|residual|converge|critical|number", said)


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
