"""A place to stand and the swing from there, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reachmap.angler.casts import casts_with
from reachmap.base.language import noted, tr
from reachmap.base.words import CastFit, Strip, UnitSystem, WayIn
from reachmap.text.hazards import hazard_sentence
from reachmap.text.numbers import distance_words, length_words, number_of, text_of
from reachmap.text.plain_words import in_words
from reachmap.text.plan import wait_words
from reachmap.text.terms import ENDINGS
from reachmap.text.way_back import more_water_sentence, way_back_sentence

ORDER = (CastFit.FITS, CastFit.TIGHT, CastFit.UNKNOWN, CastFit.NO)
"""Order in which the fits of several casts count: the best first."""

WAYS_IN: Mapping[str, str] = {
    WayIn.BOAT: noted("No way to it on foot was drawn: by boat only."),
    WayIn.UNKNOWN: noted("No way in is drawn."),
}
"""Sentence on the way in, where it is not on foot."""


def station_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the note on a row of the layer `stations`; what is unknown is named."""
    depth = number_of(row["depth_m"])
    words = [tr("Stand on dry ground.")]
    if not depth <= 0:
        words = [tr("Stand in the water: reckon with {depth}.", depth=length_words(depth, units))]
    words.append(_room_words(row, units))
    if text_of(row["hazard_kind"]):
        sentence = hazard_sentence(row, units)
        words.append(f"{sentence[0].upper()}{sentence[1:]}.")
    words += [
        tr(WAYS_IN.get(text_of(row["access"]), "")),
        more_water_sentence(row, units),
        way_back_sentence(row, units),
    ]
    return " ".join(word for word in words if word)


def swing_note(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the note on a swing, from a row of the layer `swings`."""
    where = tr("Second pass, outside.") if text_of(row["strip"]) == Strip.OUTSIDE else ""
    slows, seconds, wait = (number_of(row[name]) for name in ("slows_s", "swing_s", "wait_s"))
    words = [tr("Never slows into the wanted pace in this water.")]
    if math.isfinite(slows):
        words = [tr("Slows into the wanted pace {slows} s after landing.", slows=f"{slows:.0f}")]
    words.append(tr(ENDINGS[str(row["swing_end"])]))
    if math.isfinite(seconds):
        words.append(
            tr(
                "{seconds} s over {length}.",
                seconds=f"{seconds:.0f}",
                length=distance_words(number_of(row["length_m"]), units),
            )
        )
    words += [pause] if (pause := wait_words(wait)) else []
    share = number_of(row["share_in_bands"])
    if math.isfinite(share):
        words.append(tr("{share} of its strip at the wanted depth and pace.", share=f"{share:.0%}"))
    if tip := text_of(row["tip_wants"]):
        words.append(tr("It wants a {tip} tip than any you own.", tip=in_words(tip)))
    return " ".join(word for word in (where, *words) if word)


def fit_at(row: Mapping[str, Any]) -> CastFit:
    """Return the best fit of any cast at a place."""
    return next((fit for fit in ORDER if casts_with(row, fit)), CastFit.NO)


def casts_words(row: Mapping[str, Any]) -> str:
    """Return the casts that fit or fit tightly, with commas."""
    return ", ".join(map(in_words, casts_with(row, CastFit.FITS, CastFit.TIGHT)))


def tight_words(row: Mapping[str, Any]) -> str:
    """Return the casts that fit only within the error of the room, with commas."""
    return ", ".join(map(in_words, casts_with(row, CastFit.TIGHT)))


def _room_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the room behind and the cast it allows."""
    fit = fit_at(row)
    if fit is CastFit.UNKNOWN:
        return tr("What stands behind is not known: look before you cast.")
    if fit is CastFit.NO:
        return tr("No room behind for any cast you own.")
    clear, longest = number_of(row["room_m"]), number_of(row["head_max_m"])
    room = tr("{clear} clear behind (+-20 %).", clear=length_words(clear, units))
    if math.isnan(clear):
        room = tr("Ground farther behind is not known.")
    if math.isfinite(longest):
        room += " " + tr("Heads up to {longest}.", longest=length_words(longest, units))
    out, head = number_of(row["head_out_m"]), str(row["head"])
    if math.isfinite(out):
        head = tr("{out} of {head} out", out=length_words(out, units), head=head)
    cast = in_words(row["cast"])
    cast = cast[0].upper() + cast[1:]
    if fit is CastFit.TIGHT:
        fits = tr("{cast} with {head} only just fits: look behind you.", cast=cast, head=head)
        return f"{room} {fits}"
    return f"{room} {tr('{cast} with {head} fits.', cast=cast, head=head)}"
