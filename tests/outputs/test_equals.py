"""Runs that the map cannot tell apart, by name."""

from reachmap.outputs.day_list import Stop
from reachmap.outputs.equals import equals_of
from reachmap.text.odds import listed_rank


def row(run, low, high, odds, **more):
    """Return a row of the table of runs by flow."""
    return {"run": run, "rank_low": low, "rank_high": high, "odds": odds, "shut": None, **more}


def test_runs_of_overlapping_ranks_are_equal_the_best_first():
    rows = [row("c", 2, 4, 40.0), row("a", 1, 2, 100.0), row("b", 2, 3, 60.0), row("d", 5, 5, 1.0)]
    got = equals_of(rows)
    assert got == {"a": ("b", "c"), "b": ("a", "c"), "c": ("a", "b"), "d": ()}


def test_a_run_that_is_shut_or_has_no_odds_is_equal_with_none():
    shut = row("b", 1, 2, 90.0, shut="too little")
    none = row("c", 0, 0, float("nan"))
    assert equals_of([row("a", 1, 2, 100.0), shut, none]) == {"a": ()}


def test_a_list_gives_a_run_s_span_of_ranks_before_what_to_mind():
    stop = Stop(
        1,
        "Bench",
        False,
        "all 40 yd",
        "30 min",
        "an undercut",
        "",
        listed_rank(row("a", 1, 4, 9.0)),
    )
    assert stop.short == "1 Bench · all 40 yd · 30 min · rank 1-4 · mind: an undercut"
    assert listed_rank(row("a", 0, 0, 9.0)) == ""
