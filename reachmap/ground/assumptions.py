"""Notes on what the ground stage assumed where the drawing gives no value."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.resistance import Stones
from reachmap.ground.bed import Bed
from reachmap.ground.cover import HEIGHT_M
from reachmap.ground.layout import Layout
from reachmap.markup.model import Markup

MOST_NAMED = 6
"""How many banks are named in one sentence."""


def assumptions(layout: Layout, markup: Markup, bed: Bed, *, has_dem: bool) -> list[str]:
    """Return what was assumed where the drawing gives no value.

    Parameters
    ----------
    layout, markup
        The drawing.
    bed
        As made, before soundings.
    has_dem
        Whether a DEM gave the dry ground.
    """
    notes = []
    banks = [
        (bank.name or f"bank {number}", number, bank)
        for number, bank in enumerate(markup.banks, start=1)
    ]
    blank = [
        name
        for name, number, bank in banks
        if np.isnan(bank.rise_m) and _mostly_unknown(bed.height[layout.bank == number])
    ]
    if blank:
        notes.append(
            f"No ground is known under {_named(blank)}: say its rise, or add a DEM. Higher water "
            "cannot be mapped there."
        )
    bare = [
        name
        for name, _, bank in banks
        if np.isnan(bank.cover_height_m) and HEIGHT_M[bank.cover] > 0
    ]
    if bare:
        notes.append(f"Cover of {_named(bare)} was given a usual height for its kind.")
    notes += [
        f"Side channel {swale.name!r} was drawn across dry ground: it runs when water reaches it, "
        "at a height that only a DEM, or an edge seen there, can tell."
        for swale in layout.swales
        if not has_dem
    ]
    return [*notes, *_stone_notes(markup, bed.stones)]


def _stone_notes(markup: Markup, stones: Stones) -> list[str]:
    """Return how the bed's stones were reckoned with, if they were."""
    if stones.size_m == 0:
        return []
    given = markup.plan.stones_m
    how = "as given" if np.isfinite(given) else f"for a bed of {markup.plan.bed}"
    notes = [
        f"Stones of {100 * stones.size_m:.3g} cm, {how}: they hold shallow water back more than "
        f"deep. Manning's n is that of water {stones.depth_m:.2g} m deep, more in shallower water, "
        "less in deeper."
    ]
    if np.isfinite(given) and given > 1.001 * stones.size_m:
        notes.append(
            f"Stones of {100 * given:.3g} cm are large for water so shallow: only "
            f"{100 * stones.size_m:.3g} cm are reckoned with."
        )
    return notes


def _mostly_unknown(bed: FloatArray) -> bool:
    """Return whether more than half of some cells are unknown."""
    return bool(bed.size and np.isnan(bed).mean() > 0.5)


def _named(names: Sequence[str]) -> str:
    """Return names as part of a sentence, the first few of many."""
    shown = ", ".join(names[:MOST_NAMED])
    more = len(names) - MOST_NAMED
    return f"{shown} and {more} more" if more > 0 else shown
