"""Flights of one terrain model held against each other: ground that moved, levels of the water."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import label

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import Fault
from reachmap.base.patches import EIGHT
from reachmap.ground.layout import Layout
from reachmap.markup.config import flow_text
from reachmap.markup.dem_note import Flight
from reachmap.markup.evidence import Finding, Weight
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.model import Markup
from reachmap.markup.places import length_words

if TYPE_CHECKING:
    from reachmap.ground.flights import FlightWater

MOST_NAMED = 5
"""Patches that are named, the largest first (our choice); the others are counted."""

FEWEST_CELLS = 50
"""Cells that both saw dry, at least, before two flights are compared as a whole (our choice)."""


@dataclass(frozen=True, slots=True)
class Compared:
    """The flights of a terrain model and how far their waters stand apart.

    Parameters
    ----------
    layout, markup
        The drawing.
    seen
        The flights, the one that counts first first.
    base
        Place of the flight with the lowest water.
    apart
        How far each one's water stands above that [m]; NaN unknown.
    rules
        Thresholds.
    """

    layout: Layout
    markup: Markup
    seen: Sequence[FlightWater]
    base: int
    apart: Sequence[float]
    rules: EvidenceSettings

    def height(self, metres: float) -> str:
        """Return a height in the folder's units."""
        return length_words(metres, self.markup.plan.units)


def flight_findings(scene: Compared) -> list[Finding]:
    """Return where flights disagree: as a whole, by places, and by the level of their water."""
    found: list[Finding] = []
    for later in range(len(scene.seen)):
        for earlier in range(later + 1, len(scene.seen)):
            found += _of_ground(scene, later, earlier)
    return [*found, *_of_water(scene)]


def _of_ground(scene: Compared, later: int, earlier: int) -> Iterator[Finding]:
    """Yield how the ground of two flights differs."""
    one, other = scene.seen[later], scene.seen[earlier]
    names = f"{_name(one.flight)} and {_name(other.flight)}"
    known = np.isfinite(one.height) & np.isfinite(other.height) & scene.layout.along
    dry = known & ~one.wet & ~other.wet
    off = one.height - other.height
    whole = float(np.median(off[dry])) if dry.sum() >= FEWEST_CELLS else 0.0
    if abs(whole) > scene.rules.flight_offset_m:
        word = "above" if whole > 0 else "below"
        far = abs(whole) > scene.rules.flight_far_m
        yield Finding(
            "flights",
            Weight.STOP if far else Weight.WARNING,
            Fault(
                f"DEM, flights {names}",
                f"over all the ground that both saw dry the first stands "
                f"{scene.height(abs(whole))} {word} the second",
                "Another datum or unit? Bring both to one, or take one out",
            ),
        )
    gone = other.height > one.level + scene.rules.flight_gap_m  # dry then, under water now
    made = one.height > other.level + scene.rules.flight_gap_m
    moved = dry & (np.abs(off - whole) > scene.rules.flight_gap_m)
    moved |= known & one.wet & ~other.wet & gone
    moved |= known & ~one.wet & other.wet & made
    patches = _patches(scene, moved, off - whole)
    if patches:
        shown = "; ".join(patches[:MOST_NAMED])
        more = len(patches) - MOST_NAMED
        rest = f"; and {more} more" if more > 0 else ""
        yield Finding(
            "flights",
            Weight.NOTE,
            Fault(
                f"DEM, flights {names}",
                f"the river has moved between them, or one is wrong: {shown}{rest}",
                "The first named counts; say first = true in the other's [[flight]] to keep that",
            ),
        )


def _patches(scene: Compared, moved: BoolArray, off: FloatArray) -> list[str]:
    """Return where ground changed and by how much, the largest place first."""
    layout = scene.layout
    pieces, count = label(layout.corridor.spread(moved, 0), EIGHT)
    piece = pieces[layout.corridor.row, layout.corridor.col]
    size = np.bincount(piece, minlength=count + 1) * layout.corridor.grid.cell**2
    size[0] = 0.0
    words = []
    for number in np.argsort(-size):
        if size[number] < scene.rules.flight_patch_m2:
            break
        here = piece == number
        low, high = np.percentile(layout.main_station[here], (5, 95))
        beside = float(np.median(layout.main_offset[here]))
        side = "left" if beside > 0 else "right"
        mean = float(np.median(off[here]))
        which = "higher" if mean > 0 else "lower"
        words.append(
            f"river {side}, {scene.height(max(low, 0.0))} to {scene.height(high)} down the river "
            f"line, {scene.height(abs(mean))} {which} in the first"
        )
    return words


def _of_water(scene: Compared) -> Iterator[Finding]:
    """Yield how the water of each flight stands to the lowest, which the ground is made with."""
    base = scene.seen[scene.base]
    if not base.shows_water:
        return
    for k, one in enumerate(scene.seen):
        if k == scene.base:
            continue
        where = f"DEM, flight {_name(one.flight)}"
        if not one.shows_water:
            if one.flight.below_water or not one.rows.any():
                continue
            found = "it shows no water surface, and another flight does"
            fix = "Between the drawn edges it is not used; if it knows the bed, say below_water"
            yield Finding("flights", Weight.WARNING, Fault(where, found, f"{fix} = true there"))
        elif np.isnan(scene.apart[k]):
            found = f"its water lies nowhere near that of the flight {_name(base.flight)}"
            fix = "How far they stand apart is not known, so its water is left out: unknown ground"
            yield Finding("flights", Weight.WARNING, Fault(where, found, fix))
        elif abs(scene.apart[k]) > scene.rules.flight_water_m:
            yield _levels(scene, k)


def _levels(scene: Compared, k: int) -> Finding:
    """Return how far the water of a flight stands from the lowest, and whether flows agree."""
    one, base = scene.seen[k].flight, scene.seen[scene.base].flight
    apart = scene.apart[k]
    units = scene.markup.plan.units
    flows = [flow_text(each.flow, units) if np.isfinite(each.flow) else "" for each in (one, base)]
    said = [f" (at {flow})" if flow else "" for flow in flows]
    word = "above" if apart > 0 else "below"
    found = (
        f"its water{said[0]} stands {scene.height(abs(apart))} {word} that of "
        f"{base.date or 'the one without a date'}{said[1]}"
    )
    fix = f"The water {_name(base)} counts; this one's is brought to it where it alone reaches"
    agree = np.isfinite(one.flow) and np.isfinite(base.flow)
    agree = agree and (one.flow > base.flow) == (apart > 0) and one.flow != base.flow
    if not agree:
        fix += ". Its level and the flows do not agree, or no flow is known: say date and flow of "
        fix += "each in a [[flight]]"
    weight = Weight.NOTE if agree else Weight.WARNING
    return Finding("flights", weight, Fault(f"DEM, flight {_name(one)}", found, fix))


def _name(flight: Flight) -> str:
    """Return what a flight is called."""
    return f"of {flight.date}" if flight.date else "without a date"
