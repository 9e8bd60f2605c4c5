"""The seven lines of a run's card, and the day's list in words."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from reachmap.angler.card_facts import RunCard, Standing
from reachmap.angler.run_plan import RunPlan
from reachmap.base.units import to_si
from reachmap.base.words import (
    Confidence,
    HangDown,
    MendTo,
    Strip,
    SwingEnd,
    UnitSystem,
    WaterKind,
    WayIn,
)
from reachmap.base.words_runs import Mind, Shut
from reachmap.text.run_lines import Facts, run_lines, why_sentence
from reachmap.text.today import mind_words, minutes_words, shut_words, where_words
from reachmap.text.trade import depth_in_words, pace_in_words
from tests.outputs.made_product import made_product

US, METRIC = UnitSystem.US, UnitSystem.METRIC
HEIGHT_M = 1.78


@pytest.fixture(scope="module")
def card() -> RunCard:
    found = made_product().cards("First Gravel", "2400cfs")
    assert found is not None
    assert found.standing is not None
    return found


def lines(card, speed=0.8, units=US):
    made = run_lines(Facts(card, speed, HEIGHT_M, units))
    return {line.name: (line.words, line.sure) for line in made}


def standing(card, **changed) -> RunCard:
    return replace(card, standing=replace(card.standing, **changed))


def test_there_are_seven_lines_in_one_order_and_each_says_how_sure(card):
    names = ["Stand", "Cast", "Tip, fly, mend", "Step and pace", "How long", "Way in and back"]
    for one in (card, replace(card, standing=None, casting=None, swinging=None)):
        made = lines(one)
        assert list(made) == [*names, "What lies below"]
        assert all(words and sure for words, sure in made.values())


def test_a_depth_is_told_on_the_body_and_never_too_shallow():
    # knee at 0.285 and hip at 0.530 of one's height: Drillis and Contini (1966), from memory
    assert depth_in_words(0.285 * HEIGHT_M, HEIGHT_M, METRIC) == "knee deep (0.5 m)"
    assert depth_in_words(0.29 * HEIGHT_M, HEIGHT_M, METRIC).startswith("mid-thigh deep")
    assert depth_in_words(0.53 * HEIGHT_M, HEIGHT_M, US).startswith("hip deep")
    assert depth_in_words(1.2, HEIGHT_M, US).startswith("over the waist")
    assert depth_in_words(math.nan, HEIGHT_M, US) == "how deep is not known"


def test_a_pace_is_told_against_a_walk_and_never_too_slow():
    assert pace_in_words(to_si(3.0, "ft/s"), US) == "walking pace (3.0 ft/s)"
    assert pace_in_words(1.31, METRIC) == "faster than a walk (1.3 m/s)"
    assert pace_in_words(2.5, US).startswith("at a run")
    assert pace_in_words(math.nan, US) == "pace not known"


def test_what_is_not_known_is_never_dry_shallow_or_clear(card):
    words, _ = lines(standing(card, deepest_m=math.nan))["Stand"]
    assert "how deep is not known" in words
    assert "dry" not in words
    assert "at most" not in words
    words, sure = lines(standing(card, room_m=None))["Cast"]
    assert sure == "room behind not known: look first"
    assert "2 of 2" in lines(standing(card, blind=2))["Cast"][1]
    words, _ = lines(replace(card, easy_out_m=math.nan, careful_out_m=math.nan))["Stand"]
    assert "No water here is within your limits: stay out of it." in words
    words, sure = lines(card)["What lies below"]
    assert words.startswith("Not all known.")
    assert sure == "not all could be looked for"
    assert lines(standing(card, way=WayIn.UNKNOWN))["Way in and back"][1] == "not known"
    assert "not known" in lines(card, speed=math.nan)["Step and pace"][0]


def test_a_stand_is_dry_only_where_it_is(card):
    assert "on dry ground" in lines(standing(card, deepest_m=0.09))["Stand"][0]
    assert "at most knee deep (1.5 ft)" in lines(standing(card, deepest_m=0.45))["Stand"][0]


def test_how_sure_a_stand_is_goes_by_its_water(card):
    for confidence, words in (
        (Confidence.GOOD, "well supported"),
        (Confidence.FAIR, "fairly sure"),
        (Confidence.LOW, "a guess"),
    ):
        assert lines(replace(card, confidence=confidence))["Stand"][1] == words


def test_limits_far_out_are_told_apart(card):
    told = lambda easy, careful: lines(  # noqa: E731
        replace(card, easy_out_m=easy, careful_out_m=careful)
    )["Stand"][0]
    assert "Within your limits to 5 yd out; beyond" in told(to_si(5, "yd"), math.nan)
    assert "to 5 yd out, close to them to 8 yd; beyond" in told(to_si(5, "yd"), to_si(8, "yd"))
    assert "Close to your limits to 8 yd out; beyond" in told(math.nan, to_si(8, "yd"))


def test_the_line_is_handled_as_the_plan_says(card):
    plan = RunPlan(
        *(1, MendTo.UP, 0.5, 0.5, 2.0, 0, 0.6, False, False),
        *(math.nan, math.nan, "", Strip.INSIDE, None),
    )
    told = lambda plan, **swing: lines(  # noqa: E731
        replace(card, plan=plan, swinging=replace(card.swinging, **swing))
    )["Tip, fly, mend"][0]
    assert told(plan).endswith("; mend once up the current as it lands.")
    assert told(replace(plan, mends=0, mend_to=None)).endswith("; no mend.")
    down = replace(plan, mends=2, mend_to=MendTo.DOWN, mend_s=6.0, high=True)
    assert told(down, fed_m=1.8288).endswith(
        "; mend twice down the current 6 s after it lands, rod held high, feed 6 ft of line."
    )
    high = replace(plan, mends=0, mend_to=None, high=True)
    assert told(high).endswith("; no mend, rod held high.")


def test_a_guide_says_why_in_one_sentence(card):
    short = replace(card.swinging, cast_m=(12.0, 15.0), end=SwingEnd.HANGS)
    made = replace(card, kinds=(WaterKind.INSIDE_BEND,), swinging=short)
    assert why_sentence(made) == (
        "At this height the soft strip lies along the bar: short casts, and let it hang."
    )
    lifted = replace(made, swinging=replace(short, hang=HangDown.LIFT))
    assert why_sentence(lifted).endswith("and lift it as soon as it hangs.")
    assert why_sentence(replace(made, standing=None)).endswith("water to look at.")


def test_the_time_is_that_of_the_stretch_and_of_the_whole_run(card):
    whole = lines(card)["How long"][0]
    facts = Facts(card, 0.8, HEIGHT_M, US, "lower 100 yd", "45 min")
    told = {line.name: line.words for line in run_lines(facts)}["How long"]
    assert told == f"45 min for the lower 100 yd; {whole}"
    every = replace(facts, stretch="all 100 yd", whole=True)
    assert {line.name: line.words for line in run_lines(every)}["How long"] == whole


def row(**told):
    return {"in_shape": True, "why": None, "why_too": None, "length_m": 137.16} | told


def test_a_stretch_is_told_as_a_part_of_its_run():
    run = {"station_m": 1000.0, "extent_m": 300.0}
    told = lambda a, b: where_words(row(prime_start_m=a, prime_end_m=b), run, US)  # noqa: E731
    assert told(1010.0, 1101.44) == "upper 100 yd"
    assert told(1100.0, 1191.44) == "middle 100 yd"
    assert told(1205.0, 1296.44) == "lower 100 yd"
    assert told(1005.0, 1279.32) == "all 300 yd"
    assert where_words(row(prime_start_m=math.nan), run, US) == "150 yd"


def test_minutes_are_those_of_the_stretch_where_they_are_known():
    assert minutes_words({"prime_minutes": 25.0, "minutes": 90.0}) == "25 min"
    assert minutes_words({"prime_minutes": math.nan, "minutes": 90.0}) == "1 h 30 min"
    assert minutes_words({"minutes": math.nan}) == ""


def test_a_shut_run_says_one_reason_and_when_it_opens():
    opens = to_si(2400.0, "cfs")
    told = shut_words(row(shut=Shut.STAND, opens_m3_s=opens), US)
    assert told == "nowhere to stand within your limits; opens at 2,400 cfs"
    told = shut_words(row(shut=Shut.SHAPE, in_shape=False, why="quick", opens_m3_s=math.nan), US)
    assert told == "too quick; at none of these flows"
    assert shut_words(row(shut=None), US) == ""
    assert all(shut_words(row(shut=one, in_shape=False, why="thin"), US) for one in Shut)


def test_the_one_thing_to_mind_is_told_with_or_without_a_card(card):
    for mind in Mind:
        assert mind_words({"mind": mind}, None, HEIGHT_M, US)
    assert mind_words({"mind": None}, card, HEIGHT_M, US) == "nothing drawn here; your own eyes"
    deep = standing(card, deepest_m=0.9)
    assert mind_words({"mind": Mind.WADING}, deep, HEIGHT_M, US) == "you stand hip deep (3 ft)"
    unknown = standing(card, deepest_m=math.nan)
    assert mind_words({"mind": Mind.WADING}, unknown, HEIGHT_M, US) == "one stands deep"
    assert isinstance(card.standing, Standing)


def test_how_long_the_tip_trails_is_told_with_the_pace(card):
    made = replace(card, swinging=replace(card.swinging, wait_s=6.2))
    assert "wait 6 s for the tip when the line is straight" in lines(made)["Step and pace"][0]
    still = replace(card, swinging=replace(card.swinging, wait_s=math.nan))
    assert "for the tip" not in lines(still)["Step and pace"][0]
