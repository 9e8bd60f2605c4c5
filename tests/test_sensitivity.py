"""The bookkeeping of the sensitivity study: fields, ranges, effects; not its results."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from reachmap.angler.wading_settings import WadingSettings
from reachmap.flow import FlowSettings
from reachmap.ground import GroundSettings
from reachmap.markup import read_markup
from reachmap.water import WaterSettings
from scripts import sensitivity_model
from scripts.sensitivity import (
    ENGINE_TABLE,
    KEPT_SHARE,
    TABLE,
    described,
    effects,
    movers,
    ranked,
    screen,
    with_new,
)
from scripts.sensitivity_fields import Field, find_fields, stated_range, with_values
from scripts.sensitivity_model import Meeting, cut_reach, model_of, turned_pairs
from scripts.sensitivity_page import PAGE, TOP, alone, movers_of_order, on_engine

STAGES = {
    "ground": GroundSettings(),
    "flow": FlowSettings(),
    "water": WaterSettings(),
    "wading": WadingSettings(),
    "meeting": Meeting(),
}
FOUND, LEFT = find_fields(STAGES)
BY_NAME = {one.name: one for one in FOUND}


def _silent(_name):
    pass


def test_every_default_lies_within_its_range():
    assert len(FOUND) > 100
    assert not [one.name for one in FOUND if not one.low <= one.default <= one.high]
    assert not [one.name for one in FOUND if not one.low < one.high]


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [  # as they stand in the texts beside the numbers
        ("ground.channel_roughness", 0.033, 0.045),
        ("ground.form.narrow_power", 0.0, 0.8),
        ("ground.section_doubt", 0.1, 0.3),
        ("flow.section_step_m", 2.0, 20.0),
        ("water.seams.length_low_m", 16.0, 40.0),
        ("water.limits.speed_high_m_s", 0.7, 1.1),
        ("water.lanes.cover_depth_m", 0.5, 1.5),
        ("water.lies.hollow_worth", 0.6, 0.95),
        ("meeting.rules.take_s", 1.0, 6.0),
        ("meeting.fish.hold_share", 0.15, 0.5),
        ("water.clear_m", 3 * 0.3048, 4 * 0.3048),
        ("wading.depth_error_m", 0.02, 0.1),
        ("wading.depth_error_share", 0.1, 0.4),
        ("wading.correlation", -0.9, 0.0),
    ],
)
def test_a_stated_range_is_read_from_the_text(name, low, high):
    assert BY_NAME[name].low == pytest.approx(low)
    assert BY_NAME[name].high == pytest.approx(high)
    assert not BY_NAME[name].assumed


def test_a_number_without_a_range_gets_a_quarter_either_way_and_is_marked():
    one = BY_NAME["water.score.sure_good"]  # its text's (0 to 1) is the scale
    assert one.assumed
    assert (one.low, one.high) == pytest.approx((0.525, 0.875))


def test_a_range_that_does_not_hold_the_number_is_anothers():
    assert stated_range("table 5-6", 0.03) is None
    assert stated_range("0.1-0.2 or 0.3-0.4", 0.35) == (0.3, 0.4)
    assert stated_range("0.1-0.2 and 0.1-0.4", 0.15, place=1, count=2) == (0.1, 0.4)
    assert stated_range("1-3", ((1.0, 2.0),)) is None


def test_numbers_that_cannot_be_varied_are_listed():
    for name in ("ground.cell", "ground.fitting.surest", "wading.mass_kg", "wading.bed_errors"):
        assert name in LEFT
        assert name not in BY_NAME


def test_how_a_number_is_known_follows_its_text():
    assert BY_NAME["wading.bed_factor"].known == "measured here"
    assert "from memory" in BY_NAME["water.lanes.depth_low_m"].known
    assert BY_NAME["ground.margin_m"].known == "our choice"


def test_values_reach_their_field_alone():
    changed = with_values(GroundSettings(), {"pool_most": 2.0, "form.deepest": 1.9})
    usual = GroundSettings()
    assert changed == replace(usual, pool_most=2.0, form=replace(usual.form, deepest=1.9))
    assert with_values(usual, {"judging.few": 6.4}).judging.few == 6
    assert with_values(usual, {}) == usual


@pytest.mark.parametrize("end", ["low", "high"])
def test_a_stage_takes_either_end_of_each_range(end):
    for one in FOUND:
        path = one.name.partition(".")[2]
        with_values(STAGES[one.stage], {path: getattr(one, end)})  # raises if not


def _made(name, low, high):
    return Field(name, (low + high) / 2, low, high, assumed=False, text="")


def test_effects_of_a_plane_are_its_slopes_and_do_not_spread():
    found = [_made("a", 0.0, 2.0), _made("b", -1.0, 3.0), _made("c", 5.0, 6.0)]
    got = effects(lambda v: {"y": 3 * v["a"] - 2 * v["b"] + 7}, found, 6, _silent)
    # Morris (1991): the effect over the whole range is slope times range, with no spread
    assert got["mu_star_y"].tolist() == pytest.approx([6.0, 8.0, 0.0])
    assert got["sigma_y"].tolist() == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_numbers_that_act_together_spread():
    found = [_made("a", 0.0, 1.0), _made("b", 0.0, 1.0)]
    got = effects(lambda v: {"y": v["a"] * v["b"]}, found, 20, _silent)
    assert (got["sigma_y"] > 0.2).all()


def test_walks_go_on_from_the_points_that_are_kept(tmp_path):
    found = [_made("a", 0.0, 2.0), _made("b", -1.0, 3.0)]
    asked = []

    def plane(values):
        asked.append(values)
        return {"y": 3 * values["a"] - 2 * values["b"]}

    kept = tmp_path / "points.jsonl"
    whole = effects(plane, found, 3, _silent, points=kept)
    lines = kept.read_text(encoding="utf-8").splitlines(keepends=True)
    assert len(asked) == len(lines) == 9  # three walks of three points
    kept.write_text("".join(lines[:5]), encoding="utf-8")
    again = effects(plane, found, 3, _silent, points=kept)
    assert len(asked) == 9 + 4
    assert again.equals(whole)
    assert kept.read_text(encoding="utf-8") == "".join(lines)


def test_only_whole_walks_count_and_other_walks_points_do_not(tmp_path):
    found = [_made("a", 0.0, 2.0), _made("b", -1.0, 3.0)]
    kept, told, model = tmp_path / "points.jsonl", [], lambda v: {"y": 3 * v["a"] - 2 * v["b"]}
    effects(model, found, 3, _silent, points=kept)
    lines = kept.read_text(encoding="utf-8").splitlines(keepends=True)
    kept.write_text("".join(lines[:8]), encoding="utf-8")  # two walks and a part of a third
    got = effects(model, found, 3, told.append, points=kept, minutes=-1)
    assert told == ["2 whole walks"]
    assert got["mu_star_y"].tolist() == pytest.approx([6.0, 8.0])
    with pytest.raises(SystemExit, match="other walks"):
        effects(model, found, 3, _silent, points=kept, seed=5)
    kept.write_text("".join(lines[:5]), encoding="utf-8")
    with pytest.raises(SystemExit, match="too few"):
        effects(model, found, 3, _silent, points=kept, minutes=-1)


def test_a_mark_is_of_numbers_and_facts():
    one = xr.Dataset({"a": ("x", [1.0, 2.0])}, attrs={"notes": "n"})
    other = one.copy(deep=True)
    assert sensitivity_model.mark_of(one) == sensitivity_model.mark_of(other)
    assert sensitivity_model.mark_of(one) != sensitivity_model.mark_of(other + 1e-9)
    other["a"][1] = 2.5
    assert sensitivity_model.mark_of(one) != sensitivity_model.mark_of(other)
    assert sensitivity_model.mark_of(one) != sensitivity_model.mark_of(one.assign_attrs(notes="m"))


def test_a_screen_takes_the_farther_end():
    found = [_made("a", -1.0, 3.0), _made("b", 0.0, 1.0)]
    got = screen(lambda v: {"y": v.get("a", 0.0) ** 2, "z": 1.0}, found, _silent)
    assert got.loc["a"].tolist() == [9.0, 0.0]
    assert got.loc["b"].tolist() == [0.0, 0.0]


def test_what_alone_moves_nothing_much_is_not_run_further():
    few = KEPT_SHARE * 0.9
    alone = pd.DataFrame(
        {"alone_waded": [10.0, 10 * few, 0.0, 0.0], "alone_soft": [0.0] * 4,
         "alone_order": [0.0, 0.0, 2.0, 2 * few], "alone_depth": [0.0, 1.0, 0.0, 0.0]},
        index=["a", "b", "c", "d"],
    )  # fmt: skip
    assert movers(alone) == {"a", "c"}


def test_outputs_take_turns_in_the_ranking():
    table = pd.DataFrame(
        {
            "mu_star_waded": [2.0, 5.0, 1.0, 0.0, np.nan],
            "mu_star_soft": [0.1, 0.0, 0.2, 0.3, np.nan],
            "mu_star_order": [0.1, 0.0, 0.2, 0.5, np.nan],
        },
        index=["a", "b", "c", "d", "e"],
    )
    # first: d (soft, order) and b (waded); second: c (soft, order) and a (waded); e was not run
    assert list(ranked(table).index) == ["d", "b", "c", "a", "e"]


def test_turned_pairs_of_known_orders():
    up = {"a": 1.0, "b": 2.0, "c": 3.0}
    down = {"a": 3.0, "b": 2.0, "c": 1.0}
    assert turned_pairs(up, {name: 10 * odds for name, odds in up.items()}) == pytest.approx(0.0)
    assert turned_pairs(up, down) == pytest.approx(100.0)
    assert turned_pairs(up, dict.fromkeys(up, 0.0)) == pytest.approx(50.0)
    assert turned_pairs(up, {"a": 2.0, "b": 1.0, "c": 3.0}) == pytest.approx(100 / 3)
    assert turned_pairs({"a": 1.0}, {"a": 2.0}) == 0.0


def test_a_stretch_that_is_gone_or_new_has_no_odds_where_it_is_not():
    # a, b, c and a new d: of 6 pairs (a, d), (b, d), (c, d) turn, (c gone) turns with a and b
    before, after = {"a": 1.0, "b": 2.0, "c": 3.0}, {"a": 1.0, "b": 2.0, "d": 4.0}
    assert turned_pairs(before, after) == pytest.approx(100 * 5 / 6)


def test_a_screen_keeps_what_it_has_found_after_each_number():
    found, kept = [_made("a", 0.0, 1.0), _made("b", 0.0, 1.0)], []
    screen(lambda v: {"y": sum(v.values())}, found, _silent, keep=lambda rows: kept.append(rows))
    assert [list(rows.index) for rows in kept] == [["a"], ["a", "b"]]


def test_what_a_screen_finds_takes_the_place_of_what_an_earlier_one_found():
    told = described([_made("a", 0.0, 1.0), _made("b", 0.0, 2.0), _made("new", 0.0, 1.0)])
    before = pd.DataFrame(
        {"high": [1.0, 9.0, 1.0], "alone_y": [5.0, 6.0, 7.0], "mu_star_y": [1.0, 2.0, 3.0]},
        index=["a", "b", "gone"],
    )
    alone = pd.DataFrame({"alone_y": [50.0, 8.0]}, index=["a", "new"])
    got = with_new(before, told, alone)
    assert list(got.index) == ["a", "b", "new"]
    assert got["alone_y"].tolist() == [50.0, 6.0, 8.0]
    assert got["high"].tolist() == [1.0, 2.0, 1.0]  # as the numbers are now
    assert got["mu_star_y"].tolist()[:2] == [1.0, 2.0]  # until others are walked
    assert got["mu_star_y"].isna().tolist() == [False, False, True]
    assert list(with_new(pd.DataFrame(), told, alone).index) == ["a", "new"]


def test_the_effects_kept_are_of_numbers_that_exist():
    kept = pd.read_csv(TABLE, index_col="number")
    assert len(kept) > 100
    assert set(kept.index) <= set(BY_NAME)
    assert set(pd.read_csv(ENGINE_TABLE)["number"]) <= set(BY_NAME)


def test_each_of_the_ten_is_spoken_of_on_the_page():
    page = PAGE.read_text(encoding="utf-8")
    ten = ranked(pd.read_csv(TABLE, index_col="number")).index[:TOP]
    assert not [name for name in ten if f"| `{name}` |" not in page]  # in the table
    assert not [name for name in ten if f"- `{name}`" not in page]  # and below it


def test_each_of_the_ten_that_move_the_order_is_on_the_page():
    table = pd.read_csv(TABLE, index_col="number")
    page = PAGE.read_text(encoding="utf-8")
    assert alone(table) in page
    assert on_engine(pd.read_csv(ENGINE_TABLE, index_col="number")) in page
    first = movers_of_order(table)
    assert len(first) == TOP
    assert (first["alone_order"].to_numpy()[:-1] >= first["alone_order"].to_numpy()[1:]).all()


def test_a_cut_drawing_holds_the_stretch_alone():
    reach = cut_reach(read_markup(sensitivity_model.SAMPLE), (1100.0, 1300.0))
    assert reach.main.line.length == pytest.approx(200.0)
    zone = reach.main.line.buffer(sensitivity_model.REACH_M)
    assert all(zone.contains(one.place) for one in (*reach.soundings, *reach.levels))
    assert all(zone.buffer(1e-6).contains(bank.outline) for bank in reach.banks)


def _counted(usual, kept):
    def counted(*told, **more):
        kept.append("ground")
        return usual(*told, **more)

    return counted


@pytest.mark.slow
@pytest.mark.compiled
def test_a_stage_runs_again_only_where_its_numbers_changed(monkeypatch):
    calls, solved, fished = [], [], []
    places = (sensitivity_model, sensitivity_model.flow, sensitivity_model)
    names = ("make_terrain", "solve", "assess_flow")
    for place, name, kept in zip(places, names, (calls, solved, fished), strict=True):
        monkeypatch.setattr(place, name, _counted(getattr(place, name), kept))
    run = model_of(cut_reach(read_markup(sensitivity_model.SAMPLE), (1100.0, 1400.0)))
    start = run({})
    assert start["order"] == pytest.approx(0.0)
    wary = run({"wading.doubt": 2.0})
    assert calls == ["ground"]
    assert wary["waded"] < start["waded"]
    assert (wary["soft"], wary["depth"]) == (start["soft"], start["depth"])
    picky = run({"water.score.score_low": 60.0})
    assert calls == ["ground"]
    assert picky["soft"] < start["soft"]
    shy = run({"meeting.fish.shy": 1.0})
    assert calls == ["ground"]
    assert {**shy, "order": 0.0} == {**start, "order": 0.0}
    assert shy["order"] > 0
    rough = run({"ground.channel_roughness": 0.045})
    assert calls == ["ground", "ground"]
    assert rough["depth"] != start["depth"]
    before = len(solved), len(fished)
    assert run({"water.seams.length_low_m": 20.0}) == start  # no seam, so no piece of water moves
    stones = run({"ground.stones.gravel_m": 0.03})  # hides no drop here: the ground is as it was
    assert calls == ["ground"] * 3
    assert (len(solved), len(fished)) == before
    assert stones == start


@dataclass(frozen=True)
class _Shared:
    """A class with texts of both kinds.

    Parameters
    ----------
    first, second
        One 0.5-2 and the other 3-5.
    """

    first: float = 1.0
    second: float = 4.0
    third: float = 1.0
    """Our choice, 0.2-1.5."""
    fourth: float = 0.0
    """No range."""


def test_texts_of_a_class_are_given_to_the_fields_they_are_for():
    found, left = find_fields({"x": _Shared()})
    assert [(one.name, one.low, one.high) for one in found] == [
        ("x.first", 0.5, 2.0),
        ("x.second", 3.0, 5.0),
        ("x.third", 0.2, 1.5),
    ]
    assert left == ["x.fourth"]
