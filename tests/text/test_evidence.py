"""Every reason has its words; names, numbers and units stand where they belong."""

import math

import pytest

from reachmap.base.words import UnitSystem
from reachmap.ground.used import Fact, Kind, Why, by_track, facts_of, packed
from reachmap.markup.model import Origin
from reachmap.text.evidence import (
    NOUNS,
    REASONS,
    not_used_words,
    set_aside_words,
    used_words,
)

METRIC = UnitSystem.METRIC


def sounding(name, why=Why.USED, value=math.nan, origin=Origin.DRAWN, number=1):
    return Fact(Kind.SOUNDING, origin, name, number, "", why, value)


@pytest.mark.parametrize("why", [one for one in Why if one is not Why.USED])
def test_every_reason_is_told(why):
    (told,) = not_used_words([sounding("S1", why, 1.5)], METRIC)
    assert told.startswith("Not used: 1 sounding (S1): ")
    assert set(Why) - {Why.USED} == set(REASONS)


def test_what_was_used_is_counted_by_kind():
    facts = [sounding("S1"), sounding("S2"), Fact(Kind.LEVEL, Origin.DRAWN, "1")]
    facts += [sounding("track.csv", origin=Origin.TRACK, number=1200)]
    assert used_words(facts) == [
        "Evidence used: 2 soundings, 1 noted level, 1,200 depths of track track.csv."
    ]
    assert used_words([]) == []


def test_one_reason_is_told_once_with_the_names_it_struck():
    facts = [sounding(f"S{k}", Why.SEEN_DRY) for k in range(1, 12)]
    (told,) = not_used_words(facts, METRIC)
    assert told.startswith("Not used: 11 soundings (S1, S2, S3, S4, S5, S6, S7, S8 and 3 more): ")


def test_a_reason_gives_its_number_in_the_folders_units():
    dry = sounding("S1", Why.DRY_GROUND, 0.6096)
    assert "stands 2 ft above" in not_used_words([dry], UnitSystem.US)[0]
    assert "stands 0.6 m above" in not_used_words([dry], METRIC)[0]


def test_pages_are_warned_of_what_cannot_be_right_and_never_of_the_log():
    wrong = sounding("S1", Why.TOO_DEEP, 10.0)
    logged = sounding("", Why.TOO_DEEP, 10.0, Origin.LOG)
    harmless = sounding("S2", Why.SEEN_DRY)
    assert set_aside_words([wrong, logged, harmless], METRIC) == [
        "Sounding S1 was set aside: it is 10 times as deep as its section carries; a wrong decimal?"
    ]


def test_facts_pass_through_a_stages_attributes():
    facts = [sounding("S1", Why.TOO_DEEP, 10.0), Fact(Kind.EDGE, Origin.LOG, "", date="2031-01-05")]
    back = facts_of({"evidence": packed(facts)})
    assert back[0] == facts[0]
    assert (back[1].kind, back[1].date, math.isnan(back[1].value)) == (
        Kind.EDGE,
        "2031-01-05",
        True,
    )
    assert facts_of({}) == ()


def test_the_depths_of_a_track_are_one_fact_by_reason():
    facts = [sounding("a", origin=Origin.TRACK, number=4), sounding("S1")]
    facts += [
        sounding("a", origin=Origin.TRACK, number=5),
        sounding("a", Why.SEEN_DRY, 0, Origin.TRACK),
    ]
    got = [(one.name, one.why, one.number) for one in by_track(facts)]
    assert got == [("a", Why.USED, 9), ("S1", Why.USED, 1), ("a", Why.SEEN_DRY, 1)]


def test_every_kind_and_origin_that_can_be_has_a_name():
    assert {kind for kind, _ in NOUNS} == set(Kind)


def test_a_wrong_edge_of_a_photo_is_told_to_its_angler_and_warned_of_on_no_page():
    photo = Fact(Kind.EDGE, Origin.PHOTO, "", date="2031-01-05", why=Why.OUTSIDE)
    walk = Fact(Kind.EDGE, Origin.WALK, "", date="2031-01-05", why=Why.OUTSIDE)
    assert not set_aside_words([photo], UnitSystem.METRIC)
    (told,) = set_aside_words([walk], UnitSystem.METRIC)
    assert told.startswith("Walked edge was set aside")
    assert len(not_used_words([photo, walk], UnitSystem.METRIC)) == 2
