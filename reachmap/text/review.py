"""The season review in plain words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reachmap.base.language import figures_text, noted, number_text, tr
from reachmap.base.units import FLOW, TEMPERATURE, flow_words, from_celsius, from_si
from reachmap.base.words import UnitSystem
from reachmap.logbook.review import Cell, Knowledge, Review, Row, RunRow, untried
from reachmap.text.log import drawn_words, tally_words, times_words, touches_words, trips_words
from reachmap.text.numbers import length_words, two_figures

PRIVATE = noted(
    "This page is yours: it lies beside your log, not with what is written for others, and holds "
    "no place but the names of your runs."
)

LITTLE = noted(
    "Counts of a season are few: a run without a touch is not one without fish. You fish where and "
    "when you expect fish, so the log says little of water that you left alone."
)

CASTS = noted("Casts are reckoned from the time fished at the map's pace: nobody counted them.")

ODDS = noted(
    "The model's odds are relative, in 100 of the best run at that flow: none of its numbers is "
    "measured on fish. Beside them stand your own hours; nothing here changes the map."
)

KNOWLEDGE = {
    Knowledge.WELL: noted("three hours or more"),
    Knowledge.LITTLE: noted("less than three hours"),
    Knowledge.UNTRIED: noted("never tried, though the map says it fishes"),
    Knowledge.POOR: noted("never tried, and the map does not expect much"),
    Knowledge.UNMAPPED: noted("not mapped"),
}
"""Meaning of the picture's cells."""

UNTRIED_MOST = 12
"""Most lines on runs never tried (our choice); the rest are counted."""


def season_sentence(review: Review) -> str:
    """Return the season in one line."""
    whole = review.whole
    if not whole.trips:
        return tr("Nothing is in the log yet.")
    return tr(
        "{trips}, {hours} h fished and about "
        "{casts} casts, {touches}, "
        "{landed} landed, {blanks} blank.",
        trips=trips_words(whole.trips),
        hours=f"{whole.hours:.0f}",
        casts=number_text(review.casts, 0),
        touches=touches_words(whole.touches),
        landed=whole.landed,
        blanks=review.blanks,
    )


def row_name(row: Row, units: UnitSystem, kind: str) -> str:
    """Return the name of a band or limb; `kind` is flow, clarity, water or limb."""
    if kind == "limb":
        return row.name or tr("limb not known")
    if math.isnan(row.low):
        return tr("{kind} not noted", kind=kind)
    if math.isinf(row.low):
        return tr("under {high}", high=_value(row.high, units, kind))
    if math.isinf(row.high):
        return tr("{low} and more", low=_value(row.low, units, kind))
    return tr(
        "{low} to {high}", low=_value(row.low, units, kind), high=_value(row.high, units, kind)
    )


def _value(value: float, units: UnitSystem, kind: str) -> str:
    """Return the end of a band with its unit."""
    if kind == "flow":
        return flow_words(two_figures(value, units), units)
    if kind == "clarity":
        return length_words(value, units)
    return f"{from_celsius(value, units):.0f} {TEMPERATURE[units]}"


def band_name(ends: Sequence[float], band: int, units: UnitSystem) -> str:
    """Return the short name of a band of flow, like 600-970."""
    low, high = (
        from_si(two_figures(one, units), FLOW[units]) for one in (ends[band], ends[band + 1])
    )
    if high < 100:
        return f"{figures_text(low, 3)}-{figures_text(high, 3)}"
    return f"{number_text(low, 0)}-{number_text(high, 0)}"


def untried_sentences(review: Review, units: UnitSystem) -> list[str]:
    """Return a sentence for each run and flows never tried, the best odds first."""
    found = untried(review)
    sentences = []
    for run, low, high, odds in found[:UNTRIED_MOST]:
        first, last = (flow_words(two_figures(one, units), units) if math.isfinite(one) else ""
                       for one in (low, high))  # fmt: skip
        where = tr("from {first} to {last}", first=first, last=last) if first and last else ""
        where = where or (
            tr("under {last}", last=last)
            if last
            else tr("over {first}", first=first)
            if first
            else tr("at any flow")
        )
        sentences.append(
            tr(
                "You don't know {run} {where}: the map gives it up to {odds} of 100 there.",
                run=run,
                where=where,
                odds=f"{odds:.0f}",
            )
        )
    if len(found) > UNTRIED_MOST:
        sentences.append(tr("and {found} more, in the picture", found=len(found) - UNTRIED_MOST))
    return sentences


def run_cells(row: RunRow) -> tuple[str, str, str]:
    """Return a run's name, its log in words, and the model's odds where it was fished."""
    words = tally_words(row.tally)
    if row.rate is not None and row.tally.timed:
        words += drawn_words(row.rate)
    odds = tr("not known") if math.isnan(row.odds) else tr("{odds} of 100", odds=f"{row.odds:.0f}")
    return row.run, f"{words}; {_blank(row.blanks)}", odds


def _blank(blanks: int) -> str:
    """Return how many trips were blank."""
    return tr("none blank") if blanks == 0 else tr("blank {blanks}", blanks=times_words(blanks))


def cell_sentence(run: str, cell: Cell, name: str) -> str:
    """Return a cell of the picture in one line, as its text alternative."""
    odds = ""
    if math.isfinite(cell.odds):
        odds = tr("; the map's odds {odds} of 100", odds=f"{cell.odds:.0f}")
        if math.isfinite(cell.low + cell.high):
            odds += tr(" ({low} to {high})", low=f"{cell.low:.0f}", high=f"{cell.high:.0f}")
    if cell.tally.trips:
        return tr(
            "{run} at {name}: {tally}; {blanks}{odds}",
            run=run,
            name=name,
            tally=tally_words(cell.tally),
            blanks=_blank(cell.blanks),
            odds=odds,
        )
    return tr(
        "{run} at {name}: {knowledge}{odds}",
        run=run,
        name=name,
        knowledge=tr(KNOWLEDGE[cell.knowledge]),
        odds=odds,
    )


def unplaced_sentence(review: Review) -> str:
    """Return how many trips belong to no run; empty where all do."""
    if not review.unplaced:
        return ""
    return tr(
        "{unplaced} found no run: counted in the sums, not in the picture.",
        unplaced=trips_words(review.unplaced),
    )


def review_lines(review: Review, units: UnitSystem) -> list[str]:
    """Return the review's first lines for the terminal."""
    if not review.whole.trips:
        return [season_sentence(review)]
    return [season_sentence(review), *untried_sentences(review, units)[:5], tr(LITTLE)]
