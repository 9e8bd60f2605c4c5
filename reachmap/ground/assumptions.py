"""Notes on what the ground stage assumed where the drawing gives no value."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.resistance import Stones
from reachmap.ground.bed import Bed
from reachmap.ground.cover import HEIGHT_M
from reachmap.ground.layout import Layout
from reachmap.ground.notes import GroundNote, GroundNoteKind
from reachmap.markup.model import Markup


def assumptions(layout: Layout, markup: Markup, bed: Bed, *, has_dem: bool) -> list[GroundNote]:
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
    notes: list[GroundNote] = []
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
        notes.append(GroundNote(GroundNoteKind.NO_GROUND_UNDER_BANKS, names=tuple(blank)))
    bare = [
        name
        for name, _, bank in banks
        if np.isnan(bank.cover_height_m) and HEIGHT_M[bank.cover] > 0
    ]
    if bare:
        notes.append(GroundNote(GroundNoteKind.COVER_HEIGHT_USUAL, names=tuple(bare)))
    notes += [
        GroundNote(GroundNoteKind.SIDE_CHANNEL_OVER_DRY, names=(swale.name,))
        for swale in layout.swales
        if not has_dem
    ]
    return [*notes, *_stone_notes(markup, bed.stones)]


def _stone_notes(markup: Markup, stones: Stones) -> list[GroundNote]:
    """Return which size of stones the bed's resistance has, if it has any."""
    if stones.size_m == 0:
        return []
    given = markup.plan.stones_m
    kind = () if np.isfinite(given) else (str(markup.plan.bed),)
    notes = [GroundNote(GroundNoteKind.STONES, (stones.size_m, stones.depth_m), kind)]
    if np.isfinite(given) and given > 1.001 * stones.size_m:
        notes.append(GroundNote(GroundNoteKind.STONES_TOO_LARGE, (given, stones.size_m)))
    return notes


def _mostly_unknown(bed: FloatArray) -> bool:
    """Return whether more than half of some cells are unknown."""
    return bool(bed.size and np.isnan(bed).mean() > 0.5)
