"""Limits of a map's evidence, and the cheapest additions that would reduce them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.language import tr, tr_count
from reachmap.markup.model import Markup

SOME_DEPTHS = 20
"""With fewer depths than this the bed hardly changes (docs/ground.md: 20 without a DEM take a
tenth off)."""

SOME_LEVELS_M = 200.0
"""Levels further apart than this do not resolve pools and riffles [m] (docs/ground.md: one every
90 m helps, one every 400 m does not)."""

CHEAPEST = 2
"""Number of additions named: a list of ten is not read."""


@dataclass(frozen=True, slots=True)
class Given:
    """Evidence of a folder, in numbers.

    Parameters
    ----------
    dem
        Whether there is one.
    dem_flow
        Whether the flow of its day is known.
    depths, tracks
        Soundings of all kinds, and drives of an echo sounder.
    higher_edges
        Edges seen at another flow than the traced one.
    levels_apart_m
        Length of river for each level noted [m]; inf without one.
    speeds
        Timed sticks.
    rating
        Whether the gauge has one.
    bare_banks
        Banks without a noted rise, where there is no DEM.
    """

    dem: bool
    dem_flow: bool
    depths: int
    tracks: int
    higher_edges: int
    levels_apart_m: float
    speeds: int
    rating: bool
    bare_banks: int


def given_of(reach: Markup) -> Given:
    """Return the evidence of a reach folder."""
    plan = reach.plan
    levels = len(reach.levels)
    dem = bool(reach.dems)
    bare = 0 if dem else sum(not np.isfinite(bank.rise_m) for bank in reach.banks)
    return Given(
        dem=dem,
        dem_flow=bool(np.isfinite(plan.dem.flow)) or plan.dem.below_water,
        depths=len(reach.soundings),
        tracks=len(reach.tracks),
        higher_edges=sum(abs(one.flow / plan.traced_flow - 1) > 0.05 for one in reach.edges),
        levels_apart_m=reach.main.line.length / levels if levels else float("inf"),
        speeds=len(reach.speeds),
        rating=reach.gauge is not None and bool(reach.gauge.segments),
        bare_banks=bare,
    )


def cannot_say(given: Given) -> list[str]:
    """Return the limits of a map from such evidence, the gravest first."""
    sentences = []
    if not given.dem and not given.tracks and given.depths < SOME_DEPTHS:
        few = (
            tr_count("{count} depth", "{count} depths", given.depths)
            if given.depths
            else tr("none")
        )
        sentences.append(
            tr(
                "How deep it is at any one place: without a DEM, and with so few depths measured "
                "({few}), depths are what such a river usually has. That a dozen such rivers "
                "agree is "
                "no evidence.",
                few=few,
            )
        )
    elif not given.tracks and given.depths < SOME_DEPTHS:
        sentences.append(
            tr(
                "The bed below the water of the DEM's day: the fall of that water tells pools from "
                "riffles, but no depth was measured there to speak of."
            )
        )
    if given.bare_banks:
        sentences.append(
            tr(
                "Where you can stand or wade above the traced edge: nobody says how "
                "{bare_banks} of the banks rise, so the ground there is unknown, and runs have "
                "nowhere to stand.",
                bare_banks=given.bare_banks,
            )
        )
    if not given.dem and given.levels_apart_m > SOME_LEVELS_M:
        sentences.append(
            tr("Where it runs fast and where slow: the water's fall is one guess for all of it.")
        )
    if not given.dem and not given.higher_edges:
        sentences.append(
            tr("How far the edge moves as the river rises: it was seen at one flow only.")
        )
    if given.dem and not given.dem_flow:
        sentences.append(tr("Which flow the DEM's water is: its depths rest on a guess of it."))
    if not given.rating:
        sentences.append(
            tr("What a gauge height means here: there is no rating, so only flows can be asked.")
        )
    return sentences


def cheapest(given: Given) -> list[str]:
    """Return the additions that would improve the map most for the least, best first.

    Ordered by their benefit on rivers whose truth is known (docs/ground.md, docs/evidence.md)
    against the time they take.
    """
    advice = []
    if not given.dem:
        advice.append(
            tr(
                "A bare-earth DEM of 1 or 2 m cells: an evening at a computer, mostly free from "
                "the "
                "survey agency (docs/evidence.md). Nothing else comes near it."
            )
        )
    if given.dem and not given.dem_flow:
        advice.append(
            tr(
                "The river's flow on the day the DEM was flown, from the gauge's record: a minute "
                "(flow under [dem])."
            )
        )
    if given.bare_banks:
        advice.append(
            tr(
                "The rise of each bank's outer edge above the water, by eye against your own "
                "height: "
                "an hour's walk (rise in the layer banks)."
            )
        )
    if not given.tracks:
        advice.append(
            tr(
                "One drift down the deepest water with an echo sounder that keeps a track: an "
                "hour. It "
                "does as much as sixty depths by staff."
            )
        )
    if given.depths < SOME_DEPTHS and not given.tracks:
        advice.append(
            tr(
                "Twenty depths by staff, spread over the runs, with the river's flow: a morning; "
                "the "
                "list of places says where."
            )
        )
    if not given.dem and not given.higher_edges:
        advice.append(tr("The water's edge walked once at a higher flow with a phone: an hour."))
    if not given.speeds:
        advice.append(
            tr("Ten sticks timed from the bank at a higher flow, then reachmap fit: an hour.")
        )
    return advice[:CHEAPEST]


def honest_lines(reach: Markup) -> list[str]:
    """Return limits and additions as lines for a terminal; none where there are none."""
    given = given_of(reach)
    cannot, better = cannot_say(given), cheapest(given)
    lines = [tr("What the map cannot say from this:")] if cannot else []
    lines += [f"  {one}" for one in cannot]
    lines += [tr("What would change it most for the least:")] if better else []
    return [*lines, *(f"  {number}. {one}" for number, one in enumerate(better, start=1))]
