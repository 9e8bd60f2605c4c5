"""Drawn hazards in sentences."""

import pytest

from reachmap.base.words import UnitSystem
from reachmap.text.hazards import hazard_sentence, left_out_words


def row(kind, way, metres, toward="across", note=""):
    return {
        "hazard_kind": kind,
        "hazard_note": note,
        "hazard_distance_m": metres,
        "hazard_way": way,
        "hazard_toward": toward,
    }


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        (row("strainer", "current", 32.0), "a strainer 35 yd below, the current leads into it"),
        (row("undercut", "walk", 11.0, "up"), "an undercut 12 yd up the bank you walk"),
        (row("ledge", "current", 18.3), "a ledge 20 yd below, the current leads over it"),
        (row("other", "straight", 45.7, "down", "old weir"),
         "another hazard (old weir) 50 yd downstream"),
        (row("cold inflow", "here", 0.0), "a cold inflow where you fish"),
        (row("soft bottom", "walk", 9.2), "a soft bottom 10 yd along the bank you walk"),
    ],
)  # fmt: skip
def test_one_function_makes_the_words(facts, words):
    assert hazard_sentence(facts, UnitSystem.US) == words


def test_the_reasons_for_places_left_out_are_counted_by_kind():
    assert left_out_words({}) == ""
    assert left_out_words({"undercut": 4}) == "4 places left out: on a drawn undercut."
    two = left_out_words({"undercut": 1, "ledge": 2})
    assert two.startswith("3 places left out: 1 on a drawn undercut and 2 at a drawn ledge")
