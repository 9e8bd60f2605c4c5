"""What is said of tailouts that nobody could tell."""

import pytest

from reachmap.angler.places import Places
from reachmap.base.words import UnitSystem
from reachmap.text.map_cards import water_card
from reachmap.text.water import TAILOUT_UNKNOWN, unknown_tailouts

ROW = {
    "code": "E1", "kind": "soft_edge", "side": "left", "run": "", "length_m": 40.0,
    "width_m": 8.0, "depth_m": 0.8, "speed_m_s": 0.6, "score": 50.0, "confidence": "low",
    "prime": False,
}  # fmt: skip


def test_where_none_can_be_told_it_says_so_and_what_would_tell():
    (line,) = unknown_tailouts({"20cfs": 0.0, "40cfs": 0.6})
    assert line.startswith("No tailouts are shown")
    assert "Soundings" in line
    assert "terrain model that shows the low water's surface" in line


def test_where_some_can_the_share_of_the_low_water_is_told():
    (line,) = unknown_tailouts({"20cfs": 0.34, "40cfs": 0.9})
    assert "34%" in line


@pytest.mark.parametrize("shares", [{}, {"20cfs": 1.0}, {"20cfs": 0.96}])
def test_where_nearly_all_can_nothing_is_said(shares):
    assert unknown_tailouts(shares) == []


@pytest.mark.parametrize("untold", [True, False])
def test_the_card_of_a_piece_of_water_says_when_no_tailout_is_looked_for(untold):
    lines = water_card(ROW | {"tailout_untold": untold}, UnitSystem.US, Places(0)).lines
    assert (TAILOUT_UNKNOWN in lines) is untold


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.62, "6 in 10 pass on this side"),
        (0.02, "hardly any pass on this side"),
        (0.98, "nearly all pass on this side"),
        (float("nan"), None),
    ],
)
def test_the_card_says_how_many_fish_pass_on_its_side(share, said):
    rows = dict(water_card(ROW | {"passing": share}, UnitSystem.US, Places(0)).rows)
    assert rows.get("Fish on their way up") == said
