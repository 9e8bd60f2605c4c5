"""How sure each cell is, and where a note would help: packed, outlined, told."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.base.grid import Grid
from reachmap.base.words import Confidence, UnitSystem, Wet
from reachmap.outputs.webmap.feature import EVERY_FLOW, Thin
from reachmap.outputs.webmap.layers import features
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.outputs.webmap.signed import DRY_STEPS, depth_values
from reachmap.outputs.webmap.tiles import SPREAD_STEPS_M, cut
from reachmap.outputs.webmap.unknown import edge_band, guessed_water
from reachmap.text.map_cards import OF_ENSEMBLE, sure_words
from reachmap.text.sure import spread_words
from tests.outputs.made_doubt import with_doubt
from tests.outputs.webmap.test_tiles import bytes_of, picture


@pytest.fixture(scope="module")
def doubted(product):
    return with_doubt(product)


@pytest.fixture(scope="module")
def drawn(doubted):
    return features(doubted)


def test_without_an_ensemble_confidence_is_that_of_the_bed_at_all_flows(product):
    tiles = cut(PageGrid.over(Grid.of(product.ground)), product.ground, product.flows)
    assert len(tiles.sure) == 1
    assert set(np.unique(bytes_of(tiles.sure[0]))) <= {0, 1, 2, 3}


def test_each_flow_carries_its_own_confidence_and_the_doubt_of_its_depths(doubted):
    page = PageGrid.over(Grid.of(doubted.ground))
    tiles = cut(page, doubted.ground, doubted.flows, doubt=doubted.doubt)
    assert len(tiles.sure) == len(doubted.labels)
    codes, depths = picture(tiles, 2, "sure", page), picture(tiles, 2, "depth", page)
    told = (codes % 4 > 0) & (depths > DRY_STEPS) & (depths < 250)
    values = depth_values()
    assert told.any()
    assert ((codes >> 2)[told] >= 1).all()
    # twice the spread is 0.3 of the depth here: the step told is never below it
    upper = np.array([0.0, *SPREAD_STEPS_M, np.inf])[codes[told] >> 2]
    assert (upper >= 0.3 * values[depths[told] - 1] - 1e-6).all()
    # a square of two cells a side is as sure as the least sure of its cells
    deep = values[depths[told] - 1] > 1.5
    assert (codes[told][deep] % 4 == 1).all()
    assert 0.95 * deep.sum() < (codes[told] % 4 == 1).sum() < 1.4 * deep.sum()


def test_where_nobody_worked_it_out_no_confidence_is_told(doubted):
    holed = doubted.doubt.copy(deep=True)
    for name in ("agreement", "depth_spread"):
        holed[name].to_numpy()[:] = np.nan
    tiles = cut(PageGrid.over(Grid.of(doubted.ground)), doubted.ground, doubted.flows, doubt=holed)
    assert all((bytes_of(text) == 0).all() for text in tiles.sure)


def test_guesses_are_outlined_where_few_of_the_ensemble_agree(doubted, drawn):
    cell = float(doubted.ground.attrs["cell"])
    for index in range(len(doubted.labels)):
        low = doubted.doubt["agreement"].to_numpy()[index] < 1 / 3
        area = sum(outline.area for outline in guessed_water(doubted.doubt, index))
        assert area == pytest.approx(low.sum() * cell**2, rel=0.15, abs=400)
    assert {f.flow for f in drawn if f.kind == "guess"} <= set(range(len(doubted.labels)))
    assert any(f.kind == "guess" for f in drawn)


def test_the_edge_lies_in_its_band(doubted):
    chance = doubted.doubt["wet_chance"].to_numpy()[1]
    x, y = doubted.flows["x"].to_numpy(), doubted.flows["y"].to_numpy()
    bands = edge_band(doubted.doubt, 1)
    assert bands
    for band in bands:
        place = band.representative_point()
        row, column = np.abs(y - place.y).argmin(), np.abs(x - place.x).argmin()
        near = chance[row - 1 : row + 2, column - 1 : column + 2]
        assert ((near > 0.1) & (near < 0.9)).any()


def test_unknown_stays_unknown_with_an_ensemble(doubted, drawn):
    unknown = (doubted.flows["wet"].to_numpy() == Wet.UNKNOWN).any()
    assert unknown
    assert any(f.kind == "unknown_water" for f in drawn)


def test_ten_places_to_sound_are_drawn_at_every_flow(drawn):
    asks = [f for f in drawn if f.kind == "ask"]
    assert [f.label for f in asks] == [f"A{rank}" for rank in range(1, 11)]
    assert {f.flow for f in asks} == {EVERY_FLOW}
    assert asks[9].mark == "edge"
    assert "give or take" in dict(asks[0].card.rows)["Depth there is known to"]
    assert "Depth there is known to" not in dict(asks[9].card.rows)


def test_side_channels_are_drawn_only_at_flows_that_wake_them(drawn):
    sides = [f for f in drawn if f.kind == "side_channel"]
    assert {f.flow for f in sides} == {2, 3}
    assert {f.label for f in sides} == {"wakes at 4,000 cfs"}
    assert dict(sides[0].card.rows)["Carries"] == "12% of the river"
    arms = [f for f in drawn if f.kind == "dead_arm"]
    assert {f.flow for f in arms} == {1, 2, 3}
    assert dict(arms[0].card.rows)["Carries"] == "next to nothing"


def test_bars_say_when_the_way_back_is_cut_off(drawn):
    bars = [f for f in drawn if f.kind == "bar"]
    assert {f.label for f in bars} == {"cut off at 4,000 cfs"}
    assert dict(bars[0].card.rows)["Way back is cut off at"] == "4,000 cfs"


def test_words_of_confidence_are_the_ensembles_only_where_there_is_one():
    assert sure_words("low", tried=True) == f"low: {OF_ENSEMBLE[Confidence.LOW]}"
    assert sure_words("good") == f"good: {Confidence.GOOD.meaning}"


def test_doubt_is_told_in_both_units_and_never_below_its_step():
    words = spread_words(SPREAD_STEPS_M, UnitSystem.US)
    assert len(words) == len(SPREAD_STEPS_M) + 2
    assert words[0] == ""
    assert words[4] == "give or take 1.6 ft (0.5 m)"
    assert words[-1] == "give or take more than 3.9 ft (1.2 m)"


def test_an_outline_loses_its_steps_but_not_its_water(product):
    thin = Thin(0.2, 2.0)
    for shape in product.layers["water"].geometry:
        smooth = thin.without_steps(shape)
        assert smooth.area >= 0.9 * shape.area
        assert smooth.hausdorff_distance(shape) <= 2.0 + 2.0  # simplified, then corners cut


def test_an_empty_list_of_asks_draws_none(doubted):
    layers = {**doubted.layers, "asks": doubted.layers["asks"].iloc[:0]}
    assert not [f for f in features(replace(doubted, layers=layers)) if f.kind == "ask"]
