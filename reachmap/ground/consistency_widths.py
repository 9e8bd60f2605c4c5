"""Consistency of widths drawn at several flows: the river widens as the flow rises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.ground.consistency_scene import Scene, longest_run
from reachmap.ground.edges import SAME_FLOW, EdgePair, drawn_pairs, edge_offsets
from reachmap.ground.low_water import traced_flow
from reachmap.markup.evidence import Finding, Weight

MOST_LISTED = 3
"""Pairs of flows listed one by one (our choice)."""

LEAST_VERTICES = 10
"""Fewest vertices at which two widths can be compared."""


def width_findings(scene: Scene) -> list[Finding]:
    """Return where a higher flow was drawn narrower, and a traced flow its width contradicts."""
    pairs = main_pairs(scene)
    crossed = crossed_pairs(scene, pairs)
    findings = [_crossed_finding(scene, one) for one in crossed[:MOST_LISTED]]
    findings += two_at_one_flow(scene)
    if any(not (_is_traced(scene, one.low) or _is_traced(scene, one.high)) for one in crossed):
        return findings  # the others contradict each other: no evidence on the traced flow
    return findings + traced_by_width(scene, pairs)


def main_pairs(scene: Scene) -> list[EdgePair]:
    """Return the edges of the main channel as drawn, with those of the DEM's water; flows rise."""
    main = scene.layout.main
    traced = traced_flow(scene.markup)[0]
    pairs = drawn_pairs(main, scene.markup.edges, traced)
    flow = scene.dem_flow
    known = [abs(pair.flow - flow) <= SAME_FLOW * flow for pair in pairs]
    if scene.low.how == "surface" and np.isfinite(flow) and not any(known):
        pairs.append(_seen_pair(scene, flow))
    return sorted(pairs, key=lambda pair: pair.flow)


def _seen_pair(scene: Scene, flow: float) -> EdgePair:
    """Return the edges of the water that a DEM shows within the drawn channel's reach."""
    sections = scene.layout.sections[0]
    wet = sections.sample(scene.low.wet, 0) > 0
    any_wet = wet.any(axis=1)
    half = sections.spacing / 2
    left = sections.offset[wet.shape[1] - 1 - wet[:, ::-1].argmax(axis=1)] + half
    right = sections.offset[wet.argmax(axis=1)] - half
    return EdgePair(flow, np.where(any_wet, left, np.nan), np.where(any_wet, right, np.nan))


@dataclass(frozen=True, slots=True)
class Crossed:
    """A lower flow drawn wider than a higher one.

    Parameters
    ----------
    low, high
        The edges at the two flows.
    share
        Of the stretch where both are known, the part along which it is so.
    length
        Along which it is so [m].
    start, end, worst
        Stations of its longest piece, and of the greatest difference in it [m].
    widths
        The lower and the higher flow's width there [m]; from the channel's line to the one side
        both show where one side only is known.
    """

    low: EdgePair
    high: EdgePair
    share: float
    length: float
    start: float
    end: float
    worst: float
    widths: tuple[float, float]


def crossed_pairs(scene: Scene, pairs: Sequence[EdgePair]) -> list[Crossed]:
    """Return the pairs of flows of which the lower is the wider, the longest first.

    Parameters
    ----------
    scene
        The evidence.
    pairs
        Edges as drawn, flows rising.
    """
    found = []
    settings, line = scene.settings, scene.layout.main.line
    usual = scene.layout.main.median_width
    least = least_difference(scene)
    for low, high in combinations(pairs, 2):
        inner, outer = compared_widths(low, high)
        known = np.isfinite(inner) & np.isfinite(outer)
        wrong = known & (inner - outer > least)
        length = float(wrong.sum() * line.step)
        share = float(wrong.sum() / max(known.sum(), 1))
        if length < settings.edge_length_widths * usual or share < settings.edge_length_share:
            continue
        piece = longest_run(wrong)
        worst = piece.start + int(np.argmax((inner - outer)[piece]))
        found.append(
            Crossed(
                low, high, share, length, float(line.station[piece.start]),
                float(line.station[piece.stop - 1]), float(line.station[worst]),
                (float(inner[worst]), float(outer[worst])),
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: -one.length)


def compared_widths(one: EdgePair, other: EdgePair) -> tuple[FloatArray, FloatArray]:
    """Return the widths of two pairs at each vertex [m]: of both sides, else of the side both show.

    NaN where no side is known in both. A side's width is its distance from the channel's line.
    """
    left = np.isfinite(one.left) & np.isfinite(other.left)
    right = np.isfinite(one.right) & np.isfinite(other.right)
    none = ~(left | right)
    widths = [
        np.where(left, pair.left, 0.0) - np.where(right, pair.right, 0.0) for pair in (one, other)
    ]
    first, second = (np.where(none, np.nan, width) for width in widths)
    return first, second


def two_at_one_flow(scene: Scene) -> list[Finding]:
    """Return a finding where edges drawn at the traced flow are not the traced banks' edges."""
    main, settings = scene.layout.main, scene.settings
    flow = traced_flow(scene.markup)[0]
    same = [one for one in scene.markup.edges if abs(one.flow - flow) <= SAME_FLOW * flow]
    if not same:
        return []
    drawn = EdgePair(flow, *edge_offsets(main, [one.shape for one in same]))
    traced = EdgePair(flow, main.left, main.right)
    its, mine = compared_widths(drawn, traced)
    known = np.isfinite(its)
    off = known & (np.abs(its - mine) > least_difference(scene))
    if known.sum() < LEAST_VERTICES or off.sum() < settings.swapped_share * known.sum():
        return []
    drawn_width, width = (scene.length(float(np.median(one[known]))) for one in (its, mine))
    found = (
        f"the edge drawn at {scene.flow(flow)} is {drawn_width} wide in the median, the traced "
        f"water at the same flow {width}: they differ along {off.sum() / known.sum():.0%} of it"
    )
    fix = "One of the two flows is wrong: correct traced_flow, or the flow of that edge"
    return [Finding("traced_flow", Weight.WARNING, Fault("edges", found, fix))]


def least_difference(scene: Scene) -> float:
    """Return the least difference of two widths that is no error of a hand or of the cells [m]."""
    settings, usual = scene.settings, scene.layout.main.median_width
    least = max(settings.edge_error_m, settings.edge_error_share * usual)
    return least + scene.layout.corridor.grid.cell / 2


def _crossed_finding(scene: Scene, one: Crossed) -> Finding:
    """Return what is reported of a lower flow drawn wider than a higher one."""
    low, high = _named(scene, one.low), _named(scene, one.high)
    wide, narrow = (scene.length(width) for width in one.widths)
    found = (
        f"{low} is wider than {high} along {one.share:.0%} of where both are known, most at "
        f"{scene.stretch(one.start, one.end)}: {wide} against {narrow} "
        f"({scene.length(one.worst)} down the line)"
    )
    if one.share >= scene.settings.swapped_share:
        fix = "Most likely the two flows are swapped or one of them is wrong: correct it"
    else:
        fix = "A river widens with its flow: correct the edge that is misdrawn there, or its flow"
    topic = "traced_flow" if _is_traced(scene, one.low) or _is_traced(scene, one.high) else "edges"
    return Finding(topic, Weight.WARNING, Fault("edges", found, fix))


def _named(scene: Scene, pair: EdgePair) -> str:
    """Return what drew a pair of edges, with its flow."""
    flow = scene.flow(pair.flow)
    if _is_traced(scene, pair):
        return f"the traced water (traced_flow {flow})"
    if np.isfinite(scene.dem_flow) and pair.flow == scene.dem_flow:
        return f"the DEM's water ([dem] flow {flow})"
    return f"the edge drawn at {flow}"


def _is_traced(scene: Scene, pair: EdgePair) -> bool:
    """Return whether a pair is that of the traced banks."""
    return pair.left is scene.layout.main.left


def traced_by_width(scene: Scene, pairs: Sequence[EdgePair]) -> list[Finding]:
    """Return a finding where the traced width belongs to another flow by the widths of others."""
    traced = next(pair for pair in pairs if _is_traced(scene, pair))
    implied = flow_of_width(scene, traced, [pair for pair in pairs if pair is not traced])
    if implied is None:
        return []
    low, best, high = implied
    factor = max(best / traced.flow, traced.flow / best)
    if low <= traced.flow <= high or factor < scene.settings.flow_factor:
        return []
    others = ", ".join(_named(scene, pair) for pair in pairs if pair is not traced)
    found = (
        f"traced_flow is {scene.flow(traced.flow)}, but the width between the traced banks "
        f"({scene.length(scene.layout.main.median_width)} in the median) is that of about "
        f"{scene.about(best)} by {others}"
    )
    fix = "Correct traced_flow, or the flows of those edges"
    where = "reach.toml, [river] traced_flow"
    return [Finding("traced_flow", Weight.WARNING, Fault(where, found, fix))]


def flow_of_width(
    scene: Scene, traced: EdgePair, others: Sequence[EdgePair]
) -> tuple[float, float, float] | None:
    """Return the least, likeliest and greatest flow [m3/s] that fill the traced width.

    ln w is taken as straight in ln Q between the flows known, and beyond them with the exponent of
    the last two, kept within `EvidenceSettings.width_power`; an error of `width_error_m` on each
    width makes the range. None with fewer than two other flows.
    """
    points = []
    for pair in others:
        mine, its = compared_widths(traced, pair)
        known = np.isfinite(mine) & np.isfinite(its) & (mine > 0) & (its > 0)
        if known.sum() >= LEAST_VERTICES:
            ratio = np.log(its[known] / mine[known])
            error = scene.settings.width_error_m * np.sqrt(2) / np.median(mine[known])
            points.append((np.log(pair.flow), float(np.median(ratio)), float(error)))
    if len(points) < 2:
        return None
    flow, width, error = (np.array(values) for values in zip(*sorted(points), strict=True))
    width = np.maximum.accumulate(width)
    found = [
        _crossing(flow, width + sign * error, scene.settings.width_power) for sign in (1, 0, -1)
    ]
    low, best, high = np.exp(np.clip(found, -20.0, 20.0))
    return float(low), float(best), float(high)


def _crossing(flow: FloatArray, width: FloatArray, power: tuple[float, float]) -> float:
    """Return ln Q at which a rising ln w over ln Q is 0, straight between the points."""
    least, most = power
    inner = np.flatnonzero((width[:-1] <= 0) & (width[1:] > 0))
    if inner.size:
        at = int(inner[0])
        share = -width[at] / (width[at + 1] - width[at])
        return float(flow[at] + share * (flow[at + 1] - flow[at]))
    end = 0 if width[0] > 0 else -1
    near = slice(0, 2) if end == 0 else slice(-2, None)
    (one, two), (first, second) = flow[near], width[near]
    exponent = float(np.clip((second - first) / max(two - one, 1e-9), least, most))
    return float(flow[end] - width[end] / exponent)
