"""party.toml: what it says, and every fault of it at once."""

from __future__ import annotations

import math

import pytest

from reachmap.base.words import UnitSystem
from reachmap.markup.config.party import read_party
from reachmap.markup.config.plan import read_plan

KIT = read_plan("").plan.kit
HEAD, TIP = KIT.heads[0].name, KIT.tips[0].name


def read(text, units=UnitSystem.US):
    return read_party("party.toml", text, units, KIT)


def test_what_it_says_is_read_in_the_folder_s_units():
    found = read(
        f"""
        [day]
        boat = true
        from = "08:15"
        hours = 7
        room = 120
        [[person]]
        name = "Ann"
        height = "5 ft 6 in"
        wade_limit = 2
        heads = ["{HEAD}"]
        tips = ["{TIP}"]
        [[person]]
        name = "Ben"
        """
    )
    assert found.faults == ()
    day, (ann, ben) = found.keys.day, found.keys.person
    assert (day.boat, day.begin, day.hours) == (True, "08:15", 7)
    assert day.room == pytest.approx(120 * 0.3048)
    assert ann.height == pytest.approx(1.6764)
    assert ann.wade_limit == pytest.approx(0.6096)
    assert (ann.heads, ann.tips) == ((HEAD,), (TIP,))
    assert math.isnan(ben.height)
    assert read("[day]\nroom = 40\n[[person]]\nname = 'A'", UnitSystem.METRIC).keys.day.room == 40


def test_every_fault_is_told_with_its_place():
    found = read(
        """
        surprise = 1
        [day]
        boat = "yes"
        from = "quarter past"
        bnak = "left"
        [[person]]
        height = "12 ft"
        [[person]]
        name = "Cleo"
        wade_limit = "3.9 ft"
        height = "4 ft"
        heads = ["nobody's"]
        [[person]]
        name = "cleo"
        """
    )
    told = [str(one) for one in found.faults]
    assert len(told) == 9
    for words in (
        "surprise", "[day] boat", "[day] from", "'bnak' is not a key here", "no name",
        "[[person]] 1, height", "3/4 of their height", "\"nobody's\" is none of the heads",
        "named twice",
    ):  # fmt: skip
        assert any(words in line for line in told), (words, told)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[day", "not valid TOML"),
        ("", "it names nobody"),
        ("person = 3", "not a list"),
        ("day = 3\n[[person]]\nname = 'A'", "not a section"),
    ],
)
def test_what_is_no_party_is_one_fault(text, words):
    faults = read(text).faults
    assert len(faults) == 1
    assert words in str(faults[0])
