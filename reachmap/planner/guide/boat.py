"""The boat's stop in each turn: candidate routes downstream, the most promising first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations_with_replacement

import numpy as np

from reachmap.planner.guide.people import Offer
from reachmap.planner.guide.ways import Frame, fished_worth

Route = tuple[int, ...]
"""The boat's stop in each turn, never upstream."""


def boat_days(
    offers: Sequence[Mapping[int, Offer]], frame: Frame, count: int, so_far: Route = ()
) -> list[Frame]:
    """Return the boat's most promising days, the best first.

    Parameters
    ----------
    offers
        What each run, by its number, offers to each rod.
    frame
        The day; its runs are open in all turns that the rules allow.
    count
        Most days returned.
    so_far
        Its stop in the first turns if these are over; -1 for any.

    Returns
    -------
    list
        Frames; in each turn only the runs of the boat's stop are open.

    Notes
    -----
    There are hundreds of routes down eight stops in five turns. Each is rated by the worth of what
    all rods can fish there together, shared evenly (`estimated_worth`); only the best rated are
    then planned exactly. With no more routes than `count` the plan is the optimum; else it was in
    all made cases but few (docs/guide.md).
    """
    stops = sorted({spot.stop for spot in frame.spots})
    at = np.array([spot.stop for spot in frame.spots])
    judged = [
        (estimated_worth(offers, route, frame), route)
        for route in combinations_with_replacement(stops, frame.turns)
        if all(was in (-1, stop) for was, stop in zip(so_far, route, strict=False))
    ]
    judged.sort(key=lambda one: (-one[0], one[1]))
    return [
        replace(frame, open_=frame.open_ & (at[:, None] == np.array(route)[None, :]))
        for _, route in judged[:count]
    ]


def estimated_worth(offers: Sequence[Mapping[int, Offer]], route: Route, frame: Frame) -> float:
    """Return an estimate of a plan's worth with a boat's route.

    At each stop the best passes that its runs hold in its turns are fished; each further rod in a
    run loses (1 - `follow_share`) of a pass; moving to the stop is taken from its first turn.
    """
    rods, share = len(offers), frame.settings.follow_share
    total, unrest, before = 0.0, 0.0, -1
    for stop, turns in stays(route):
        mine = [number for number, spot in enumerate(frame.spots) if spot.stop == stop]
        first = mine[0]
        came = frame.spots[first].way_in_min if before < 0 else frame.move_min(before, first)
        slots = []
        for number in mine:
            spot = frame.spots[number]
            able = [one[number] for one in offers if number in one]
            opened = int(frame.open_[number, turns].sum())
            if not able or not opened:
                continue
            price = (1 - share) * spot.pass_worth
            passes = [
                max(fished_worth(one, at * frame.turn_min, frame.turn_min, share) for one in able)
                - (price if rod and not at else 0.0)
                for rod in range(len(able))
                for at in range(opened)
            ]
            slots += sorted(passes, reverse=True)[: spot.holds * opened]
        holds = min(rods, sum(frame.spots[number].holds for number in mine))
        best = [one for one in sorted(slots, reverse=True) if one > 0][: holds * len(turns)]
        lost = came / frame.turn_min * sum(best[:holds])
        total += (sum(best) - lost) * (1 - frame.settings.crowd_share) ** turns[0]
        idle = rods * len(turns) - len(best)
        unrest += rods * came + frame.settings.wait_min * idle
        before = mine[-1]
    return rods * frame.gain_of(total / rods, unrest / rods)


def stays(route: Route) -> Iterator[tuple[int, list[int]]]:
    """Yield each stop of a boat's day with its turns."""
    for stop in dict.fromkeys(route):
        yield stop, [turn for turn, one in enumerate(route) if one == stop]
