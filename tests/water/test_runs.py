"""Runs followed across flows, their names and the table of runs by flow."""

import numpy as np
import pandas as pd
import pytest
from shapely import Polygon, box

from reachmap.base.centreline import Centreline
from reachmap.base.schema import BY_NAME, layer_frame
from reachmap.base.units import to_si
from reachmap.base.words import Side, UnitSystem, Wet
from reachmap.markup.model import NamedRun
from reachmap.text.run_table import run_note, shape_note, shape_words
from reachmap.water.gather import overlap
from reachmap.water.runs import follow_runs
from reachmap.water.settings import WaterSettings
from reachmap.water.stretches import sections_of
from reachmap.water.table import runs_by_flow
from tests.made import CRS, made_flows, made_ground

RULES = WaterSettings()
GROUND = made_ground(length=900, half_width=25, deep=2.0)
FLOWS = made_flows(GROUND, {20.0: -0.9, 50.0: -0.1, 120.0: 0.9})
LABELS = [str(label) for label in FLOWS["asked"].values]
LINE = Centreline.of(GROUND)
SECTIONS = sections_of(LINE.head, LINE.foot, [], RULES)
X0, Y0 = float(GROUND["line_x"][0]), float(GROUND["line_y"][0])


def stretch_at(station, side):
    """Return the number of the stretch at a station of the made river."""
    return SECTIONS.number(SECTIONS.at(np.array([station])), Side(side))


def piece(k, start, end, low, high, *, side="left", kind="inside_bend", score=70.0):
    """Return a row of the water layer: a box along the straight made river."""
    names = [column.name for column in BY_NAME["water"].columns]
    row = dict.fromkeys(names, 1.0)
    row |= {"flow": float(FLOWS["flow"][k]), "flow_label": LABELS[k], "code": f"B{start:g}"}
    row |= {"kind": kind, "side": side, "station_m": start, "station_end_m": end}
    row |= {
        "length_m": end - start,
        "score": score,
        "stretch": stretch_at(0.5 * (start + end), side),
        "confidence": "good",
        "run": "",
        "part": None,
        "prime": False,
        "tailout_untold": False,
    }
    row |= {
        "wade": None,
        "factor_size": 0.4,
        "geometry": box(X0 + start, Y0 + low, X0 + end, Y0 + high),
    }
    return row


def followed(rows, named=()):
    return follow_runs(layer_frame("water", rows, CRS), GROUND, named, RULES)


def test_overlap_is_over_the_shorter_stretch():
    assert overlap((0, 100), (50, 200)) == pytest.approx(0.5)
    assert overlap((0, 100), (80, 90)) == 1.0
    assert overlap((0, 10), (20, 30)) == 0.0


def test_the_same_water_keeps_one_name_as_it_moves_up_the_bar():
    rows = [piece(0, 100, 200, 2, 8), piece(1, 110, 205, 6, 14), piece(2, 120, 190, 14, 22)]
    water, runs = followed(rows)
    assert len(set(water["run"])) == 1
    assert len(runs) == 1
    assert runs["named_by"][0] == "reachmap"


def test_water_on_the_other_side_is_another_run():
    rows = [piece(0, 100, 200, 4, 12), piece(1, 100, 200, -12, -4, side="right")]
    water, runs = followed(rows)
    assert len(runs) == 2
    assert water["run"].nunique() == 2


def test_a_run_ends_as_another_kind_of_water():
    rows = [piece(0, 100, 200, 4, 12), piece(2, 100, 200, 14, 20, kind="soft_edge")]
    assert len(followed(rows)[1]) == 1


def test_a_run_is_the_water_of_one_stretch_of_bank_however_it_scores():
    rows = [piece(1, s, s + 60, 4, 12, score=90 - s / 20) for s in (20, 100, 300, 380)]
    water, runs = followed(rows)
    assert list(water["run"]) == [runs["run"][0]] * 2 + [runs["run"][1]] * 2
    assert list(runs["stretch"]) == [stretch_at(50, "left"), stretch_at(340, "left")]
    turned = followed([row | {"score": 170 - row["score"]} for row in rows])
    assert list(turned[0]["run"]) == list(water["run"])


def test_water_found_elsewhere_renames_nothing():
    rows = [piece(1, 100, 200, 4, 12), piece(2, 300, 400, -12, -4, side="right")]
    more = [*rows, piece(0, 20, 90, -9, 9, score=99, side="right"), piece(2, 700, 800, 2, 9)]
    assert list(followed(more)[0]["run"])[:2] == list(followed(rows)[0]["run"])


def test_a_run_bears_the_name_an_earlier_build_gave_its_stretch():
    rows = [piece(1, 100, 200, 4, 12), piece(1, 300, 400, 4, 12)]
    names = {stretch_at(150, "left"): "Straight 7 left"}
    _, runs = follow_runs(layer_frame("water", rows, CRS), GROUND, (), RULES, names=names)
    assert list(runs["run"]) == ["Straight 7 left", SECTIONS.name(stretch_at(350, "left"))]


def test_a_tailout_is_of_the_stretch_it_lies_against():
    rows = [piece(1, 100, 160, 4, 12), piece(1, 165, 210, -12, 12, kind="tailout")]
    _, runs = followed(rows)
    assert len(runs) == 1
    assert runs["side"][0] == "left"
    assert runs["extent_m"][0] == pytest.approx(105)


def test_an_own_run_stays_one_run_and_its_water_says_in_which_part_it_lies():
    mine = NamedRun("The Bench", box(X0 + 40, Y0 - 25, X0 + 640, Y0 + 25))
    rows = [
        piece(1, 50, 180, 4, 12, score=80),
        piece(1, 300, 380, 4, 12, score=70),
        piece(1, 560, 640, -12, -4, side="right"),
    ]
    water, runs = followed(rows, (mine,))
    assert list(runs["run"]) == ["The Bench"]
    assert runs.geometry.iloc[0].equals(mine.outline)
    assert list(water["part"]) == ["head", "belly", "tail"]


def test_of_two_own_runs_water_is_of_the_one_it_shares_most_with():
    own = [
        NamedRun(name, box(X0 + start, Y0 + 2, X0 + end, Y0 + 16))
        for name, start, end in (("Upper Bench", 100, 160), ("Lower Bench", 160, 300))
    ]
    water, _ = followed([piece(1, 110, 240, 4, 12)], own)
    assert list(water["run"]) == ["Lower Bench"]


def test_water_of_the_other_bank_or_far_off_is_not_of_an_own_run():
    mine = NamedRun("The Bench", box(X0 + 90, Y0 + 12, X0 + 210, Y0 + 16))
    rows = [piece(1, 100, 200, -12, -4, side="right"), piece(1, 100, 200, -16, -12)]
    water, _ = followed(rows, (mine,))
    assert "The Bench" not in set(water["run"])


def test_scraps_belong_to_no_run():
    water, runs = followed([piece(1, 100, 112, 4, 8, score=80)])
    assert list(water["run"]) == [""]
    assert len(runs) == 0


def test_the_anglers_own_run_names_its_water_and_keeps_its_outline():
    mine = NamedRun("The Bench", box(X0 + 90, Y0 + 2, X0 + 210, Y0 + 16))
    rows = [piece(0, 100, 200, 2, 8), piece(2, 120, 190, 14, 22), piece(1, 400, 480, 3, 9)]
    water, runs = followed(rows, (mine,))
    assert list(water["run"])[:2] == ["The Bench"] * 2
    assert water["run"].iloc[2] != "The Bench"
    bench = runs[runs["run"] == "The Bench"].iloc[0]
    assert bench["named_by"] == "angler"
    assert bench.geometry.equals(mine.outline)


def test_an_own_run_without_water_is_still_listed():
    mine = NamedRun("The Flat", box(X0 + 600, Y0 + 2, X0 + 700, Y0 + 16))
    _, runs = followed([piece(0, 100, 200, 2, 8)], (mine,))
    assert "The Flat" in set(runs["run"])
    assert np.isnan(runs.loc[runs["run"] == "The Flat", "best_flow_m3_s"].iloc[0])


def test_an_own_run_off_the_map_harms_nothing():
    mine = NamedRun("Elsewhere", Polygon([(0, 0), (9, 0), (9, 9)]))
    _, runs = followed([piece(0, 100, 200, 2, 8)], (mine,))
    assert len(runs) == 2


def test_two_runs_of_one_place_are_told_apart_and_no_name_is_taken_twice():
    rows = [piece(1, 100, 180, 4, 12, score=80), piece(1, 300, 390, 4, 12, score=70)]
    own = NamedRun(SECTIONS.name(stretch_at(140, "left")), box(X0 + 600, Y0 + 2, X0 + 700, Y0 + 16))
    _, runs = followed(rows, (own,))
    assert runs["run"].is_unique
    assert len(runs) == 3


def table_of(rows, named=()):
    water, runs = followed(rows, named)
    return runs, runs_by_flow(water, runs, FLOWS, RULES)


def test_the_table_has_a_row_for_every_run_and_flow():
    rows = [piece(0, 100, 200, 2, 8), piece(1, 110, 205, 6, 14), piece(1, 400, 480, 3, 9)]
    runs, table = table_of(rows)
    assert list(table.columns) == [one.name for one in BY_NAME["runs_by_flow"].columns]
    assert len(table) == len(runs) * 3
    shaped = table[table["in_shape"]]
    assert shaped["why"].isna().all()
    assert shape_words(shaped.iloc[0].to_dict()) == "in shape"
    assert list(shaped["flow_label"]) == [LABELS[0], LABELS[1], LABELS[1]]
    assert (shaped["instead"] == "").all()


def test_a_run_out_of_shape_says_why_and_what_takes_its_place():
    rows = [
        piece(0, 100, 200, -6, 6, score=80),
        piece(1, 100, 200, -4, 8, score=70),
        piece(2, 300, 420, 16, 24, kind="soft_edge", score=65),
    ]
    _, table = table_of(rows)
    high = table[(table["flow_label"] == LABELS[2]) & ~table["in_shape"]].iloc[0]
    assert "quick" in (high["why"], high["why_too"])
    assert "too quick" in shape_words(high.to_dict())
    edge = table.loc[table["in_shape"] & (table["flow_label"] == LABELS[2]), "run"].iloc[0]
    assert high["instead"] == edge
    assert high["instead_m"] == pytest.approx(210.0)
    assert high["instead_score"] == pytest.approx(65.0)
    assert np.isfinite(high["depth_m"])


def test_of_two_like_runs_the_one_that_comes_in_takes_the_place():
    rows = [
        piece(0, 460, 560, -6, 6, score=80),
        piece(0, 310, 410, 10, 18, score=60),
        piece(2, 310, 410, 10, 18, score=65),
        piece(2, 690, 790, 16, 24, kind="soft_edge", score=60),
    ]
    runs, table = table_of(rows)
    middle = runs.loc[runs["station_m"] == 460, "run"].iloc[0]
    fresh = runs.loc[runs["station_m"] == 690, "run"].iloc[0]
    high = table[(table["run"] == middle) & (table["flow_label"] == LABELS[2])].iloc[0]
    assert high["instead"] == fresh


def test_a_run_nobody_can_stand_by_takes_no_place():
    rows = [
        piece(0, 460, 560, -6, 6, score=80),
        piece(2, 250, 350, 10, 18, score=60),
        piece(2, 690, 790, 16, 24, kind="soft_edge", score=90),
    ]
    water, runs = followed(rows)
    first, middle, last = runs["run"]
    at = {"fishable": {(first, LABELS[2])}}
    for told, wanted in ((None, last), (at, first)):
        table = runs_by_flow(water, runs, FLOWS, RULES, **(told or {}))
        high = table[(table["run"] == middle) & (table["flow_label"] == LABELS[2])].iloc[0]
        assert high["instead"] == wanted
    nowhere = runs_by_flow(water, runs, FLOWS, RULES, fishable=set())
    assert (nowhere["instead"] == "").all()


def test_dry_and_unknown_runs_say_so():
    rows = [piece(2, 100, 200, 18, 24, score=80)]
    _, table = table_of(rows)
    low = table[table["flow_label"] == LABELS[0]].iloc[0]
    assert low["why"] == "dry"
    blind = FLOWS.copy(deep=True)
    blind["wet"][0] = Wet.UNKNOWN
    for name in ("depth", "level", "east_speed", "north_speed"):
        blind[name][0] = np.nan
    water, runs = followed(rows)
    told = runs_by_flow(water, runs, blind, RULES)
    assert told[told["flow_label"] == LABELS[0]]["why"].iloc[0] == "unknown"


def test_a_weak_piece_names_its_weakest_factor():
    rows = [piece(0, 100, 200, 2, 8, score=80), piece(1, 100, 200, 2, 8, score=22)]
    _, table = table_of(rows)
    weak = table[table["flow_label"] == LABELS[1]].iloc[0]
    assert (weak["in_shape"], weak["why"]) == (False, "small")


@pytest.mark.parametrize(
    ("scores", "note"),
    [
        ([0, 0, 0], "In shape at none of these flows."),
        ([0, 60, 0], "In shape at 20 m³/s only."),
        ([60, 70, 0], "In shape up to 20 m³/s, best at 20 m³/s, gone above."),
        ([0, 60, 70], "Comes into shape at 20 m³/s, best at 30 m³/s, still in shape at 30 m³/s."),
        (
            [60, 0, 70],
            "In shape from 10 m³/s to 30 m³/s and perhaps beyond, best at 30 m³/s; not at 20 m³/s.",
        ),
    ],
)
def test_the_note_says_when_a_run_comes_and_goes(scores, note):
    rows = pd.DataFrame(
        {"flow": [10.0, 20.0, 30.0], "in_shape": [s > 0 for s in scores], "score": scores}
    )
    assert shape_note(rows, UnitSystem.METRIC) == note


def test_steps_between_the_flows_asked_for_are_told_rounded_and_gaps_as_stretches():
    flows = [to_si(q, "cfs") for q in (600, 664, 735, 813, 900, 987)]
    rows = pd.DataFrame(
        {
            "flow": flows,
            "between": [False, True, True, True, False, True],
            "in_shape": [True, False, False, True, False, True],
            "score": [50.0, 0.0, 0.0, 90.0, 0.0, 60.0],
        }
    )
    told = shape_note(rows, UnitSystem.US)
    assert told.startswith("In shape from 600 cfs to 990 cfs and perhaps beyond, best at 810 cfs")
    assert told.endswith("; not from 660 cfs to 740 cfs, at 900 cfs.")


def test_runs_have_a_note():
    rows = [piece(1, 100, 200, 2, 8), piece(2, 100, 200, 2, 8, score=80)]
    runs, table = table_of(rows)
    run = runs.iloc[0].to_dict() | {"minutes": 30.0, "places": 2}
    note = run_note(run, table, UnitSystem.METRIC)
    assert note.startswith("Comes into shape at 50 m³/s")
    assert "No place" not in note
    assert "Every place" not in run_note(run | {"left_out": 3}, table, UnitSystem.METRIC)
    assert "Every place" in run_note(run | {"left_out": 3, "places": 0}, table, UnitSystem.METRIC)
    assert "No place with room to cast" in run_note(
        run | {"minutes": np.nan}, table, UnitSystem.METRIC
    )


def test_no_water_is_no_run():
    water, runs = followed([])
    assert len(water) == len(runs) == 0
    assert len(runs_by_flow(water, runs, FLOWS, RULES)) == 0
