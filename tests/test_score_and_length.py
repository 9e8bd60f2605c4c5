"""The score set against length: the bookkeeping, and two of the rivers."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from scripts.score_and_length import (
    MARKS,
    PAGE,
    PIECE,
    RUN,
    held_by_first,
    merged,
    r_squared,
    scored,
    tables,
)
from scripts.score_rivers import FAMILIES, rivers


def rows(length, score, *, river="a", flow="10", of=RUN, rate=None):
    """Return rows as `scored` gives them."""
    return pd.DataFrame(
        {
            "river": river,
            "kind": "made",
            "flow": flow,
            "of": of,
            "name": [f"R{k}" for k in range(len(length))],
            "length_m": length,
            "rate": score if rate is None else rate,
            "score": score,
        }
    )


def test_a_score_that_is_a_length_is_found_out():
    length = np.array([40.0, 60.0, 90.0, 120.0, 200.0])
    assert r_squared(rows(length, 0.4 * length + 3), within=False) == pytest.approx(1.0)
    # Anscombe (1973), first of the four data sets, printed R2 .67 (from memory)
    x = np.array([10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5], dtype=float)
    y = np.array([8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68])
    assert r_squared(rows(x, y), within=False) == pytest.approx(0.67, abs=0.005)


def test_between_rivers_a_difference_of_means_does_not_hide_it():
    # long runs on a river of low scores: pooled they say little, about their means all
    length = np.array([40.0, 60.0, 80.0, 100.0])
    both = [
        rows(length, length - 30, river="a"),
        rows(length + 100, length - 70, river="b"),
    ]
    table = pd.concat(both)
    assert r_squared(table, within=True) == pytest.approx(1.0)
    assert r_squared(table, within=False) < 0.1


def test_a_table_of_one_length_tells_nothing():
    assert np.isnan(r_squared(rows([50.0, 50.0, 50.0], [1.0, 2.0, 3.0]), within=False))
    assert np.isnan(r_squared(rows([50.0, 60.0], [1.0, 2.0]), within=False))


def test_shares_of_the_first_runs():
    table = pd.concat(
        [
            rows([1.0] * 4, [100.0] * 4, rate=[4.0, 1.0, 3.0, 2.0]),
            rows([1.0] * 2, [100.0] * 2, rate=[1.0, 0.0], flow="20"),
        ]
    )
    held, enough = held_by_first(table)
    assert held == pytest.approx([(0.4 + 1) / 2, (0.7 + 1) / 2, (0.9 + 1) / 2])
    assert enough == pytest.approx((3 + 1) / 2)
    nothing = held_by_first(rows([1.0], [0.0]))
    assert np.isnan(nothing[1])


def test_the_table_has_a_row_for_each_kind_and_one_for_all():
    length, score = np.array([40.0, 60.0, 90.0]), np.array([90.0, 20.0, 70.0])
    both = pd.concat([rows(length, score), rows(length, score, of=PIECE)])
    lines = tables(both).splitlines()
    assert len(lines) == 4
    assert lines[2].startswith("| made, 1 | 1 flows | 3 |")
    assert lines[3].startswith("| all, 1 | 1 flows | 3 |")


def test_a_river_measured_again_takes_the_place_of_its_earlier_rows():
    before = pd.concat([rows([1.0, 2.0], [3.0, 4.0]), rows([5.0], [6.0], river="b")])
    got = merged(before, rows([9.0], [9.0]))
    assert sorted(zip(got["river"], got["length_m"], strict=True)) == [("a", 9.0), ("b", 5.0)]


def test_there_are_rivers_of_many_kinds_at_three_flows_each():
    every = rivers()
    assert len(every) >= 12
    assert {one.kind for one in every} == {"bends", "straight", "split", "canyon", "creek"}
    assert all(len(one.flows) == 3 and np.all(np.diff(one.flows) > 0) for one in every)
    assert len({one.name for one in every}) == len(every)


def test_a_drawn_river_is_the_same_each_time_and_another_for_another_seed():
    _, family, seed = FAMILIES["creek, 12 m"]
    bed = family.ground(seed)["bed"]
    assert bed.identical(family.ground(seed)["bed"])
    assert bed.shape != family.ground(seed + 1)["bed"].shape


def test_the_page_holds_the_table():
    page = PAGE.read_text(encoding="utf-8")
    table = page.partition(MARKS[0])[2].partition(MARKS[1])[0]
    rows = [line.strip("| ").split(" | ") for line in table.splitlines()[3:] if "," in line]
    kinds = {row[0].split(",")[0] for row in rows}
    assert kinds == {"bends", "straight", "split", "canyon", "creek", "all"}
    # of a dozen rivers and more, of no kind is the score a length, by runs or by pieces
    assert int(rows[-1][0].split(",")[1]) == len(rivers()) >= 12
    assert max(float(row[k]) for row in rows for k in (3, 4, 6, 7)) < 0.4


@pytest.mark.slow
@pytest.mark.compiled
def test_on_a_creek_and_in_a_canyon_the_score_is_no_length():
    wanted = [one for one in rivers() if one.name in ("creek, 12 m", "canyon, 28 m")]
    table = pd.concat([scored(one) for one in wanted], ignore_index=True)
    runs = table[table["of"] == RUN]
    assert len(runs) >= 12
    assert runs["score"].between(0, 100).all()
    # the best run of each flow is a hundred
    assert runs.groupby(["river", "flow"])["score"].max().to_numpy() == pytest.approx(100.0)
    assert r_squared(runs, within=False) < 0.4
    assert r_squared(runs, within=True) < 0.4
    assert r_squared(table[table["of"] == PIECE], within=True) < 0.4
