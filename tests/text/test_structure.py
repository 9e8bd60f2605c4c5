"""What is said of a structure: one sentence of the trade, in the folder's units."""

import math

import pytest

from reachmap.base.words import UnitSystem
from reachmap.base.words_runs import StructureKind, Support
from reachmap.text.structure import flows_words, structure_card, structure_words, swing_words
from reachmap.text.terms import STRUCTURES, SUPPORTS

US, METRIC = UnitSystem.US, UnitSystem.METRIC
ROW = {
    "kind": "bucket", "code": "H3", "side": "left", "relief_m": 0.4572, "lie_depth_m": 1.2192,
    "lie_part": "lower", "near_bed_speed_m_s": 0.3048, "lie_out_m": 9.144, "length_m": 18.288,
    "width_m": 9.144, "lie_odds": 0.62, "support": "dem", "confidence": "good",
    "swing_out_m": 10.0584, "swing_depth_m": 0.9144, "swing_speed_m_s": 0.6096,
    "holds_from_m3_s": 25.4851619328, "holds_to_m3_s": 67.9604318208,
}  # fmt: skip


def test_a_bucket_in_the_words_of_the_trade():
    told = "A bucket: 1.5 ft deeper than around it, 4.0 ft at this flow; fish lie at its lower end."
    assert structure_words(ROW, US) == told
    assert "0.5 m deeper than around it, 1.2 m at this flow" in structure_words(ROW, METRIC)


@pytest.mark.parametrize("kind", list(StructureKind))
def test_every_kind_has_its_sentence_and_name(kind):
    relief = math.nan if kind is StructureKind.EDDY_LINE else 0.4572
    told = structure_words(ROW | {"kind": kind.value, "relief_m": relief}, US)
    assert told.lower().split(":")[0].split(" ", 1)[1] == STRUCTURES[kind]
    assert "4.0 ft at this flow" in told
    assert "fish lie" in told
    assert "unknown" not in told


def test_where_the_fly_passes_is_told_or_that_it_cannot():
    assert (
        swing_words(ROW, US) == "Bring the fly through 11 yd off river left: 3.0 ft deep, 2.0 ft/s."
    )
    none = ROW | {"swing_out_m": math.nan}
    assert swing_words(none, US).startswith("No water near it suits a swung fly")


def test_the_flows_it_holds_fish_at():
    assert flows_words(ROW, US) == "from 900 cfs to 2,400 cfs"
    assert flows_words(ROW | {"holds_to_m3_s": ROW["holds_from_m3_s"]}, US).startswith(
        "at 900 cfs only"
    )
    assert flows_words(ROW | {"holds_from_m3_s": math.nan}, US) == ""
    assert "Holds fish" not in dict(structure_card(ROW | {"holds_to_m3_s": math.nan}, US).rows)


def test_a_card_says_what_it_rests_on():
    for support in Support:
        rows = dict(structure_card(ROW | {"support": support.value}, US).rows)
        assert rows["Seen by"] == SUPPORTS[support]
    card = structure_card(ROW, US)
    assert card.title == "Bucket H3"
    assert dict(card.rows)["A fish that comes by stays"] == "62% of the time"
