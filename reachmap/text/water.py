"""A piece of water in a sentence, for small screens."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reachmap.base.language import noted, tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import short
from reachmap.text.plain_words import in_words
from reachmap.text.terms import KINDS

NEARLY_ALL, HARDLY_ANY = 0.95, 0.05
"""Shares of the water that count as all and as none (our choice)."""

TAILOUT_UNKNOWN = noted(
    "Whether a tailout lies here is not told: soundings from the pool over its lip would tell."
)
"""Note on water whose bed is not known well enough to find a tailout."""

WHAT_SHOWS_THEM = noted(
    "Soundings down the pools and over their lips would show them, or a terrain model that shows "
    "the low water's surface; noted levels alone do not yet shape the bed."
)


def unknown_tailouts(shares: Mapping[str, float]) -> list[str]:
    """Return the note on water in which tailouts cannot be found; nothing where nearly all can.

    Parameters
    ----------
    shares
        Share of the water in which they can be found, by flow; the lowest flow first.
    """
    if not shares:
        return []
    share = next(iter(shares.values()))
    if share >= NEARLY_ALL:
        return []
    if share <= HARDLY_ANY:
        return [
            tr(
                "No tailouts are shown: nobody measured the bed, nor the fall of the low water "
                "over "
                "pools and riffles, and on a guessed bed most tailouts would be false. "
            )
            + tr(WHAT_SHOWS_THEM)
        ]
    return [
        tr(
            "Tailouts are shown only along the {share} of the low water where the bed or the "
            "water's fall was measured near enough; elsewhere none is looked for. ",
            share=f"{share:.0%}",
        )
        + tr(WHAT_SHOWS_THEM)
    ]


def water_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the text on a row of the layer `water`."""
    prime = tr(" Prime: it holds over a length worth fishing.") if row["prime"] else ""
    return (
        tr(
            "{kind}, {side}, {flow}: "
            "{depth} deep, {speed}, "
            "{length} long, how sure: {confidence}."
            "{prime} {run}",
            kind=tr(KINDS[row["kind"]]),
            side=in_words(row["side"]),
            flow=flow_words(row["flow"], units),
            depth=short("depth", row["depth_m"], units),
            speed=short("speed", row["speed_m_s"], units),
            length=short("distance", row["length_m"], units),
            confidence=in_words(row["confidence"]),
            prime=prime,
            run=row["run"],
        )
    ).strip()
