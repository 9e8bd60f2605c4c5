"""Zones of graded water, and bars, in plain sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reachmap.base.language import noted, tr
from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem, WadeGrade
from reachmap.text.hazards import hazard_words
from reachmap.text.numbers import distance_words, length_words, list_words, number_of, text_of
from reachmap.text.terms import STRETCHES
from reachmap.text.way_back import way_back_sentence

ALONG_SHARE = 0.7
"""Share of a zone's length from which its bank counts as open all along; our choice, 0.6-0.9."""

HARDLY_FT = 0.1
"""Height below which a bar stands hardly above the water [ft]; our choice: no more is shown."""

BANKS = (
    ("bank_left", noted("river left")),
    ("bank_right", noted("river right")),
    ("bank_island", noted("an island or bar")),
)
"""Columns of `wading` that mark a bank of a zone, and the bank's name."""


def zone_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return plain sentences on a row of the layer `wading`; what is unknown is named."""
    grade = str(row["grade"])
    if grade == WadeGrade.UNKNOWN:
        return tr("Nobody knows the depth or speed here: treat it as out of bounds.")
    if grade == WadeGrade.NO:
        return _closed_note(row, units)
    odds = odds_words(number_of(row["chance"]))
    words = [tr("Likely within your limits ({odds} beyond): slow down, use a staff.", odds=odds)]
    if grade == WadeGrade.EASY:
        words = [tr("Likely well within your limits: {odds} beyond.", odds=odds)]
    words += [
        tr(
            "Reckon with {depth}; one can stand {out} out.",
            depth=length_words(number_of(row["depth_m"]), units),
            out=distance_words(number_of(row["out_m"]), units),
        ),
        _ways(row),
        *_below(row, units),
        way_back_sentence(row, units),
    ]
    return " ".join(word for word in words if word)


def odds_words(chance: float) -> str:
    """Return a chance as a person reads it, like ``under 1 in 500``.

    Examples
    --------
    >>> odds_words(0.002)
    'under 1 in 500'
    """
    return tr("under 1 in {chance}", chance=max(round(1 / max(chance, 1e-6)), 1))


def _closed_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return why a zone is out of bounds."""
    if row["no_way_share"] > 0.5:
        return tr("Shallow and slow enough, but no way leads to it on foot: out of bounds.")
    words = [tr("Too deep, too quick or both: stay out.")]
    kind = text_of(row["below_kind"])
    if kind and row["below_m"] == 0:
        words.append(tr("Here: {kind}.", kind=hazard_words(kind, text_of(row["below_note"]))))
    elif kind:
        words.append(_hazard_below(row, units))
    return " ".join(words)


def _hazard_below(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the hazard down the current."""
    name = hazard_words(text_of(row["below_kind"]), text_of(row["below_note"]))
    return tr(
        "Below: {name} {below} down the current.",
        name=name,
        below=distance_words(number_of(row["below_m"]), units),
    )


def _ways(row: Mapping[str, Any]) -> str:
    """Return the banks from which one gets in and out."""
    banks = [tr(words) for name, words in BANKS if row[name]]
    if not banks:
        return tr("In and out only through other water: no ground beside it.")
    ground = list_words(banks)
    if row["bank_share"] >= ALONG_SHARE:
        return tr("In and out all along, from {ground}.", ground=ground)
    return tr(
        "In and out only {stretches}, from {ground}.",
        stretches=tr(STRETCHES.get(text_of(row["bank_at"]), noted("nowhere"))),
        ground=ground,
    )


def _below(row: Mapping[str, Any], units: UnitSystem) -> list[str]:
    """Return hazards and water out of bounds down the current, within the distance searched."""
    words = []
    look, near = number_of(row["looked_m"]), number_of(row["near_m"])
    within, kind = distance_words(look, units), text_of(row["below_kind"])
    if kind:
        words.append(_hazard_below(row, units))
    if row["deep_share"] > 0.5:
        words.append(
            tr("The current leads into water out of bounds within {within}.", within=within)
        )
    elif row["deep_share"] > 0:
        words.append(tr("From its outer part the current leads into water out of bounds."))
    if row["drift_lost"]:
        words.append(tr("It also leads into water nobody knows, or off the map."))
    if not kind and near <= look:
        words.append(
            tr("A hazard is drawn {near} off.", near=distance_words(max(near, 1.0), units))
        )
    if not words:
        words.append(
            tr("Nothing drawn lies below within {within}: look for yourself.", within=within)
        )
    return words


def bar_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return plain sentences on a row of the layer `bars`."""
    height = number_of(row["height_m"])
    small = from_si(height, "ft") < HARDLY_FT
    top = (
        tr("hardly above")
        if small
        else tr("at most {height} above", height=length_words(height, units))
    )
    foot = (
        tr("On foot through water you can wade.") if row["on_foot"] else tr("No way to it on foot.")
    )
    return tr(
        "{foot} It stands {top} the water. {way_back}",
        foot=foot,
        top=top,
        way_back=way_back_sentence(row, units),
    ).strip()
