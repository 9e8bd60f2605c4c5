"""The season review: bands, what one knows, what was never tried."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from reachmap.base.words import UnitSystem
from reachmap.logbook.join import RunPlace, join_trips
from reachmap.logbook.model import Entry
from reachmap.logbook.review import Knowledge, OddsAt, flow_bands, make_review, odds_rows, untried
from reachmap.outputs.review_page.page import review_page
from reachmap.text.review import season_sentence, untried_sentences

WHEN = datetime(2031, 1, 4, 9, tzinfo=UTC)
FLOWS = (20.0, 30.0, 45.0, 70.0, 100.0)


def trip(run, flow, minutes=120.0, touches=0, **more):
    return Entry(
        when=WHEN + timedelta(days=len(run)), run=run, flow=flow, minutes=minutes,
        touches=touches, **more,
    )  # fmt: skip


def model(run, odds, shut=()):
    return [
        OddsAt(run, flow, one, one - 5, one + 5, flow in shut)
        for flow, one in zip(FLOWS, odds, strict=True)
    ]


def season(entries, rows, limb=lambda _: ""):
    joined = join_trips(entries, [RunPlace("Sandpiper"), RunPlace("Teakettle")])
    return make_review(entries, joined, rows, limb)


def cells(review, run):
    return review.cells[review.runs.index(run)]


BOTH = [*model("Sandpiper", (90, 80, 70, 50, 10)), *model("Teakettle", (10, 40, 60, 90, 100))]


def test_bands_cover_the_flows_each_about_as_wide_as_one_river():
    ends = flow_bands(FLOWS)
    assert ends[0] == pytest.approx(20)
    assert ends[-1] > 100
    ratios = [b / a for a, b in pairwise(ends)]
    assert all(1.25 < one < 2.0 for one in ratios)
    assert flow_bands([]) == (0.0, math.inf)


def test_hours_make_a_run_known_and_odds_make_it_worth_knowing():
    rows = [trip("Sandpiper", 60.0, 90.0), trip("Sandpiper", 61.0, 120.0), trip("Teakettle", 60.0)]
    review = season(rows, BOTH)
    band = next(n for n, end in enumerate(review.ends[1:]) if end > 61)
    assert cells(review, "Sandpiper")[band].knowledge is Knowledge.WELL
    assert cells(review, "Teakettle")[band].knowledge is Knowledge.LITTLE
    assert cells(review, "Sandpiper")[0].knowledge is Knowledge.UNTRIED
    assert cells(review, "Teakettle")[0].knowledge is Knowledge.POOR


def test_you_don_t_know_what_fishes_and_was_never_tried():
    rows = [trip("Sandpiper", flow) for flow in (40.0, 60.0, 90.0)]
    found = untried(season(rows, BOTH))
    assert [one[0] for one in found] == ["Teakettle", "Sandpiper"]
    assert math.isinf(found[0][2])  # Teakettle, up to the highest
    run, low, high, odds = found[1]
    assert (run, low, odds) == ("Sandpiper", -math.inf, 90)
    assert high == season(rows, BOTH).ends[1]
    told = untried_sentences(season(rows, BOTH), UnitSystem.US)
    assert told[1].startswith("You don't know Sandpiper under ")


def test_water_that_nobody_can_fish_is_not_missed():
    rows = [*model("Sandpiper", (90,) * 5, shut=FLOWS), *model("Teakettle", (10,) * 5)]
    assert untried(season([], rows)) == []


def test_trips_without_flow_or_time_count_where_they_can():
    rows = [trip("Sandpiper", math.nan, math.nan), trip("Sandpiper", 60.0, math.nan, touches=1)]
    review = season(rows, BOTH)
    assert review.whole.trips == 2
    assert review.blanks == 1
    assert review.casts == 0
    assert sum(cell.tally.trips for cell in cells(review, "Sandpiper")) == 1
    assert [one.tally.trips for one in review.by_flow] == [1, 1]
    assert math.isnan(review.by_flow[-1].low)


def test_bands_of_clarity_limb_and_warmth_hold_every_trip_once():
    rows = [
        trip("Sandpiper", 60.0, clarity_m=0.6, water_c=4.0),
        trip("Sandpiper", 60.0, clarity_m=0.59, water_c=3.9),
        trip("Sandpiper", 60.0, clarity_m=9.0),
    ]
    review = season(rows, BOTH, lambda one: "falling" if one.clarity_m < 1 else "")
    assert [(one.low, one.tally.trips) for one in review.by_clarity] == [
        (-math.inf, 1), (0.6, 1), (2.0, 1),
    ]  # fmt: skip
    assert [(one.name, one.tally.trips) for one in review.by_limb] == [("falling", 2), ("", 1)]
    assert [one.tally.trips for one in review.by_water] == [1, 1, 1]


def test_casts_are_minutes_at_the_pace():
    """Common practice: about a minute a cast, swing, hang and all."""
    review = season([trip("Sandpiper", 60.0, 60.0)], BOTH)
    assert 45 <= review.casts <= 80


def test_a_run_s_odds_are_those_at_the_flows_it_was_fished_at():
    review = season([trip("Teakettle", 30.0, 60.0), trip("Teakettle", 100.0, 180.0)], BOTH)
    (row,) = review.by_run
    assert row.odds == pytest.approx((40 * 60 + 100 * 180) / 240)
    assert row.rate is None  # without any touch no rate is told


def test_trips_that_find_no_run_are_counted():
    review = season([trip("Nowhere", 60.0)], BOTH)
    assert review.unplaced == 1
    assert review.whole.trips == 1


def test_the_page_says_it_is_private_and_draws_each_cell_for_who_cannot_see_it():
    page = review_page(
        season([trip("Sandpiper", 60.0, touches=1)], BOTH), "<b>Reach", UnitSystem.US
    )
    assert "This page is yours" in page
    assert "People drown" in page
    assert "&lt;b&gt;Reach" in page
    assert page.count("<title>") == 1 + 2 * (len(flow_bands(FLOWS)) - 1)
    assert "never tried, though the map says it fishes" in page
    assert "http" not in page.replace("http-equiv", "")


def test_an_empty_log_and_no_build_still_make_a_page():
    review = season([], [])
    assert season_sentence(review) == "Nothing is in the log yet."
    assert "Nothing is built yet" in review_page(review, "Reach", UnitSystem.METRIC)


def test_rows_of_the_report_may_hold_null():
    (row,) = odds_rows([{"run": "A", "flow": 20.0, "odds": None, "shut": "no room"}])
    assert math.isnan(row.odds)
    assert row.shut


@pytest.mark.parametrize(("minutes", "look"), [(60.0, "little"), (200.0, "well")])
def test_a_cell_is_as_dark_as_the_key_says_of_its_hours(minutes, look):
    page = review_page(season([trip("Sandpiper", 60.0, minutes)], BOTH), "R", UnitSystem.METRIC)
    drawn = page.split("<svg")[1].split("</svg>")[0]
    assert f'class="cell {look}"' in drawn
    assert ("on-dark" in drawn) == (look == "well")
    assert "fill-opacity:" not in drawn
    assert "Runs by flow, m³/s" in page
