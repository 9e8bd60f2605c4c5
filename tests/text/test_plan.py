"""A plan in plain words: what is not known is never told as a number."""

import math

import pytest
from shapely import Point

from reachmap.angler.ladder import Step
from reachmap.base.schema import layer_frame, table_frame
from reachmap.base.words import HangDown, MendTo, UnitSystem, WouldHelp
from reachmap.text.map_cards import station_card
from reachmap.text.plan import (
    HANGING,
    HELPS,
    MENDED,
    angle_words,
    angles_words,
    ladder_words,
    mend_words,
    plan_lines,
    plan_note,
    second_words,
    wait_words,
    why_words,
)
from reachmap.text.station import station_note
from reachmap.text.written import written_layer
from tests.made import CRS
from tests.text.test_station import row

US, METRIC = UnitSystem.US, UnitSystem.METRIC
FT = 0.3048


def told(**other):
    """Return what is said of a plan at a row of the layer `stations`."""
    plan = {"strip_m": 20 * FT, "pulls": 4, "fly_depth_m": 2 * FT, "above_bed_m": 3 * FT}
    plan |= {"share_in_bands": 0.54, "hang_down": "step", "wait_s": 4.0}
    return " ".join(plan_lines(row(**(plan | other)), US))


def step(tip, depth_ft, *, drag=0.0, tick=0.0, share=0.3, chosen=False):
    """Return one step of a ladder."""
    return Step(tip, depth_ft * FT, 1.0, share, drag, tick, 1.0, chosen)


def test_every_word_has_its_words():
    assert set(MENDED) == set(MendTo)
    assert set(HANGING) == set(HangDown)
    assert set(HELPS) == set(WouldHelp)


def test_depth_is_told_from_the_surface_and_above_the_bed_at_once():
    words = told()
    assert "The fly swims 2 ft down, 3 ft above the bed; 54% of the strip" in words
    assert "The fly swims" not in told(above_bed_m=math.nan)
    assert "%" not in told(share_in_bands=math.nan)


def test_a_run_is_begun_short_and_lengthened_by_pulls():
    assert "begin with a rod's length of line, 4 pulls more to the full cast" in told()
    assert "1 pull more" in told(pulls=1)
    assert "a rod's length of line reaches it" in told(pulls=0)


def test_the_tip_comes_round_later():
    words = "wait 4 s after the floating line is straight"
    assert words in told()
    assert wait_words(0.5) == ""
    assert wait_words(math.nan) == ""


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ({"mends": 0}, ""),
        (
            {"mends": 1, "mend_to": "up", "mend_m": 4 * FT, "mend_s": 0.0, "mend_last_s": 0.0},
            "Mend once up the current, 4 ft, as the line lands.",
        ),
        (
            {"mends": 2, "mend_to": "down", "mend_m": 3 * FT, "mend_s": 4.0, "mend_last_s": 8.0},
            "Mend twice down the current, 3 ft, 4 s after it lands and on to 8 s.",
        ),
    ],
)
def test_mends_are_told_in_number_side_bow_and_moment(plan, words):
    assert mend_words(row(**plan), US) == words


def test_a_rod_held_high_tells_its_slack_only_where_it_is_known():
    assert "Hold the rod high: 0.5 ft of slack hangs below its tip." in told(
        rod_high=True, slack_m=0.5 * FT
    )
    assert "Hold the rod high." in told(rod_high=True, slack_m=math.nan)
    short = "A short cast: held high the rod leaves 0.5 ft of slack for the take."
    assert short in told(short_cast=True, slack_m=0.5 * FT)
    assert "slack" not in told(short_cast=True, slack_m=math.nan)
    assert "slack" not in told(short_cast=False, slack_m=0.5 * FT)
    assert "Feed 5 ft of line as it lands." in told(fed_m=5 * FT)


def test_the_plan_is_a_column_and_a_line_of_the_card():
    frame = layer_frame("stations", [row(strip_m=6.0, geometry=Point(0, 0))], CRS)
    written = written_layer("stations", frame, table_frame("runs_by_flow", []), US)
    note = written["plan"].iloc[0]
    assert note.startswith("The near 20 ft first")
    one = row(strip_m=6.0)
    assert plan_note(one, US) == note
    assert note in station_card(one, US).lines
    # what keeps one safe comes first
    assert station_card(one, US).lines[0] == station_note(one, US)
    assert plan_note(row(strip_m=6.0, cast=None), US) == ""
    assert plan_note(row(), US) == ""


def test_what_would_help_is_said_where_the_plan_does_not_serve():
    assert "From here it is hardly swum: a longer cast would help." in told(
        would_help="longer cast"
    )
    assert "would help" not in told()


def test_the_second_pass_is_told_with_its_worth_and_the_take():
    far = {"out_cast_m": 70 * FT, "out_angle_deg": 36.0, "out_tip": "T-8", "second_pass": True}
    words = second_words(row(**far, take="outside"), US)
    assert "worth a second pass: cast 70 ft, 36 deg down from straight across, T-8." in words
    assert "The take is expected there." in words
    wanting = second_words(row(**far, out_tip_wants="heavier"), US)
    assert "T-8; it wants a heavier tip than any you own." in wanting
    assert "hardly worth" in second_words(row(**far | {"second_pass": False}), US)
    assert second_words(row(), US) == ""
    assert "21.3 m" in second_words(row(**far), METRIC)


@pytest.mark.parametrize(
    ("angle", "words"),
    [
        (36.0, "36 deg down from straight across"),
        (-15.0, "15 deg up from straight across"),
        (0.0, "straight across"),
        (math.nan, "angle not known"),
    ],
)
def test_an_angle_is_told_from_straight_across(angle, words):
    assert angle_words(angle) == words


def test_a_span_of_angles_is_told_on_both_sides_of_straight_across():
    assert angles_words(12.0, 36.0) == "12-36 deg down from straight across"
    assert angles_words(-15.0, 12.0) == "15 deg up to 12 deg down from straight across"
    assert angles_words(-15.0, -5.0) == "5-15 deg up from straight across"
    assert angles_words(24.0, 24.0) == "24 deg down from straight across"


def test_the_ladder_tells_depth_touch_and_drag_tip_by_tip():
    steps = (
        step("floating", 1.0),
        step("type 3", 2.4, chosen=True, share=0.61),
        step("T-8", 3.1, tick=0.1),
        step("T-11", 3.3, drag=0.3),
        step("T-14", 3.4, drag=0.4),
    )
    assert ladder_words(steps, US) == (
        "floating 1 ft down, type 3 2.4 ft, T-8 touches in the last part, "
        "T-11 and heavier ones drag"
    )
    assert why_words(steps) == "type 3 swims 61% of the strip as wanted"


def test_a_tip_of_which_nothing_is_known_is_not_told():
    steps = (step("floating", math.nan), step("T-8", 2.0, drag=0.5))
    assert ladder_words(steps, US) == "T-8 drags"
    assert why_words(steps) == ""
    assert why_words((step("T-8", 2.0, share=math.nan, chosen=True),)) == ""


def test_of_the_tip_chosen_the_depth_is_told_though_it_touches():
    steps = (step("floating", 1.0), step("type 3", 2.4, tick=0.1, chosen=True))
    words = ladder_words(steps, US)
    assert words == "floating 1 ft down, type 3 2.4 ft, and touches in the last part"
