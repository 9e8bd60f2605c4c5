"""What the angler takes first where several casts, heads or rods serve."""

from reachmap.base.words import Cast
from reachmap.markup.config.plan import read_plan
from reachmap.markup.defaults import HEADS, RODS, TIPS

BASE = """
format = 1
name = "Here"
units = "us"
[river]
traced_flow = 900
slope = 0.002
[flows]
list = [900]
"""
KIT = """
[[rod]]
length = 13
line_weight = 7
[[head]]
name = "skagit 24"
length = 24
family = "skagit"
"""


def read(text):
    """Return what is read of a reach.toml with these lines."""
    return read_plan(BASE + text)


def test_the_order_of_liking_is_read_into_the_kit():
    read_in = read(
        '[prefer]\ncasts = ["snap-T", "Perry Poke"]\nheads = ["skagit 24"]\nrods = ["7-weight"]\n'
        + KIT
    )
    assert not read_in.faults
    kit = read_in.plan.kit
    assert kit.prefer_casts == (Cast.SNAP_T, Cast.PERRY_POKE)
    assert kit.prefer_heads == ("skagit 24",)
    assert kit.prefer_rods == ("7-weight",)


def test_left_out_nothing_is_preferred_and_nothing_is_noted_of_it():
    read_in = read(KIT)
    assert read_in.plan.kit.prefer_casts == ()
    assert not any("prefer" in note for note in read_in.notes)


def test_every_name_that_is_none_of_the_kits_is_a_fault():
    faults = read(
        '[prefer]\nheads = ["scandi 99"]\nrods = ["my rod"]\ncasts = ["flip"]\n' + KIT
    ).faults
    text = " ".join(str(fault) for fault in faults)
    for word in ("scandi 99", "skagit 24", "my rod", "7-weight", "flip"):
        assert word in text


def test_what_is_named_twice_is_a_fault():
    faults = read('[prefer]\ncasts = ["snap-T", "snap-t"]\n' + KIT).faults
    assert any("twice" in str(fault) for fault in faults)


def test_without_a_kit_the_names_are_those_of_the_usual_one():
    assert not read(f'[prefer]\nrods = ["{RODS[0].name}"]\nheads = ["{HEADS[0].name}"]\n').faults


def test_the_usual_kit_is_what_a_guide_owns():
    # common practice, no published source: three rods, four heads, tips from floating to T-14
    assert len(RODS) == 3
    assert len(HEADS) == 4
    names = " ".join(tip.name for tip in TIPS)
    for word in ("floating", "intermediate", "type 3 15 ft", "T-8", "T-11", "T-14"):
        assert word in names
