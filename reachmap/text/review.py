"""The season review in plain words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reachmap.base.language import figures_text, number_text
from reachmap.base.units import FLOW, TEMPERATURE, flow_words, from_celsius, from_si
from reachmap.base.words import UnitSystem
from reachmap.logbook.review import Cell, Knowledge, Review, Row, RunRow, untried
from reachmap.text.log import drawn_words, tally_words, times_words, touches_words, trips_words
from reachmap.text.numbers import length_words, two_figures

PRIVATE = (
    "This page is yours: it lies beside your log, not with what is written for others, and holds "
    "no place but the names of your runs."
)

LITTLE = (
    "Counts of a season are few: a run without a touch is not one without fish. You fish where and "
    "when you expect fish, so the log says little of water that you left alone."
)

CASTS = "Casts are reckoned from the time fished at the map's pace: nobody counted them."

ODDS = (
    "The model's odds are relative, in 100 of the best run at that flow: none of its numbers is "
    "measured on fish. Beside them stand your own hours; nothing here changes the map."
)

KNOWLEDGE = {
    Knowledge.WELL: "three hours or more",
    Knowledge.LITTLE: "less than three hours",
    Knowledge.UNTRIED: "never tried, though the map says it fishes",
    Knowledge.POOR: "never tried, and the map does not expect much",
    Knowledge.UNMAPPED: "not mapped",
}
"""Meaning of the picture's cells."""

UNTRIED_MOST = 12
"""Most lines on runs never tried (our choice); the rest are counted."""


def season_sentence(review: Review) -> str:
    """Return the season in one line."""
    whole = review.whole
    if not whole.trips:
        return "Nothing is in the log yet."
    return (
        f"{trips_words(whole.trips)}, {whole.hours:.0f} h fished and about "
        f"{number_text(review.casts, 0)} casts, {touches_words(whole.touches)}, "
        f"{whole.landed} landed, {review.blanks} blank."
    )


def row_name(row: Row, units: UnitSystem, kind: str) -> str:
    """Return the name of a band or limb; `kind` is flow, clarity, water or limb."""
    if kind == "limb":
        return row.name or "limb not known"
    if math.isnan(row.low):
        return f"{kind} not noted"
    if math.isinf(row.low):
        return f"under {_value(row.high, units, kind)}"
    if math.isinf(row.high):
        return f"{_value(row.low, units, kind)} and more"
    return f"{_value(row.low, units, kind)} to {_value(row.high, units, kind)}"


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
        where = f"from {first} to {last}" if first and last else ""
        where = where or (f"under {last}" if last else f"over {first}" if first else "at any flow")
        sentences.append(
            f"You don't know {run} {where}: the map gives it up to {odds:.0f} of 100 there."
        )
    if len(found) > UNTRIED_MOST:
        sentences.append(f"and {len(found) - UNTRIED_MOST} more, in the picture")
    return sentences


def run_cells(row: RunRow) -> tuple[str, str, str]:
    """Return a run's name, its log in words, and the model's odds where it was fished."""
    words = tally_words(row.tally)
    if row.rate is not None and row.tally.timed:
        words += drawn_words(row.rate)
    odds = "not known" if math.isnan(row.odds) else f"{row.odds:.0f} of 100"
    return row.run, f"{words}; {_blank(row.blanks)}", odds


def _blank(blanks: int) -> str:
    """Return how many trips were blank."""
    return "none blank" if blanks == 0 else f"blank {times_words(blanks)}"


def cell_sentence(run: str, cell: Cell, name: str) -> str:
    """Return a cell of the picture in one line, as its text alternative."""
    odds = ""
    if math.isfinite(cell.odds):
        odds = f"; the map's odds {cell.odds:.0f} of 100"
        if math.isfinite(cell.low + cell.high):
            odds += f" ({cell.low:.0f} to {cell.high:.0f})"
    if cell.tally.trips:
        return f"{run} at {name}: {tally_words(cell.tally)}; {_blank(cell.blanks)}{odds}"
    return f"{run} at {name}: {KNOWLEDGE[cell.knowledge]}{odds}"


def unplaced_sentence(review: Review) -> str:
    """Return how many trips belong to no run; empty where all do."""
    if not review.unplaced:
        return ""
    return f"{trips_words(review.unplaced)} found no run: counted in the sums, not in the picture."


def review_lines(review: Review, units: UnitSystem) -> list[str]:
    """Return the review's first lines for the terminal."""
    if not review.whole.trips:
        return [season_sentence(review)]
    return [season_sentence(review), *untried_sentences(review, units)[:5], LITTLE]
