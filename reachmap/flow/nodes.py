"""Choice of the flows to solve: few, by the leave-one-out error of the interpolation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.flow.between import WET_M, SolvedFlows
from reachmap.flow.place import SAME_FLOW


@dataclass(frozen=True, slots=True)
class NodeSettings:
    """How closely the solved flows lie.

    Parameters
    ----------
    first_gap
        Gap of ln Q between the first flows solved; our choice, 0.4-0.7: five over a ninefold range.
    depth_m, speed_m_s
        More flows are solved until the error expected between them, root mean square over the wet
        cells, is below these. Our choice: a tenth of the bed's own error, a third of the grid's.
    most
        Flows solved at most; our choice, 6-12: each costs seconds.
    """

    first_gap: float = 0.55
    depth_m: float = 0.01
    speed_m_s: float = 0.02
    most: int = 8


@dataclass(frozen=True, slots=True)
class LeftOut:
    """How far a solved flow was found wrong when it was left out and interpolated.

    Parameters
    ----------
    flow
        The flow [m3/s].
    gap
        ln of the ratio of the solved flows on either side of it.
    depth_rms_m, depth_p95_m, speed_rms_m_s, speed_p95_m_s
        Error of depth and speed where both are wet: root mean square and the size that one cell in
        twenty exceeds [m], [m/s].
    wet_share
        Cells wet in one and dry in the other, over the wet ones.
    """

    flow: float
    gap: float
    depth_rms_m: float
    depth_p95_m: float
    speed_rms_m_s: float
    speed_p95_m_s: float
    wet_share: float


def ladder(asked: Sequence[float], rungs: int) -> tuple[float, ...]:
    """Return the flows a map is read at [m3/s], rising: those asked for and steps between them.

    Parameters
    ----------
    asked
        Flows [m3/s], rising, at least one.
    rungs
        How many in all, where more than are asked for.

    Notes
    -----
    Each step more goes to the widest gap of ln Q; the steps within a gap are equal.
    """
    flows = np.asarray(asked, dtype=np.float64)
    wide = np.diff(np.log(flows))
    parts = np.ones(wide.size, dtype=np.int32)
    for _ in range(max(rungs - flows.size, 0) if wide.size else 0):
        parts[np.argmax(wide / parts)] += 1
    found = [float(flows[0])]
    for low, high, number in zip(flows[:-1], flows[1:], parts, strict=True):
        inner = np.exp(np.linspace(math.log(low), math.log(high), int(number) + 1))[1:-1]
        found += [*inner.tolist(), float(high)]
    return tuple(found)


def first_nodes(
    rungs: Sequence[float], preferred: Sequence[float], settings: NodeSettings
) -> tuple[float, ...]:
    """Return the flows to solve first [m3/s], rising: both ends, and about equal steps of ln Q.

    Parameters
    ----------
    rungs
        Flows that may be solved [m3/s], rising.
    preferred
        Those of them that are taken first, if they lie within half a step: what the angler asked
        for is then solved itself.
    settings
        `first_gap`, `most`.
    """
    low, high = math.log(rungs[0]), math.log(rungs[-1])
    gaps = min(max(round((high - low) / settings.first_gap), 2), settings.most - 1)
    half = (high - low) / gaps / 2
    found = {rungs[0], rungs[-1]}
    for at in np.linspace(low, high, gaps + 1)[1:-1].tolist():
        found.add(_nearest(rungs, preferred, at, half))
    return tuple(sorted(found))


def next_node(
    solved: SolvedFlows,
    rungs: Sequence[float],
    preferred: Sequence[float],
    settings: NodeSettings,
) -> float | None:
    """Return the flow to solve next [m3/s]; None where those solved will do, or no more may be.

    Parameters
    ----------
    solved
        What is solved.
    rungs, preferred, settings
        As for `first_nodes`.

    Notes
    -----
    Each inner flow is left out in turn. Its error was made over the gap that it leaves; in each of
    the two adjacent gaps less is expected, by the ratio of the widths: the error of a kink, where
    a bar drowns or a channel wakes, goes with the width, that of a smooth curve with its fourth
    power. The gap with the largest expected error is halved, at a flow of `rungs`.
    """
    if solved.flows.size >= settings.most:
        return None
    errors = np.nan_to_num(expected_errors(solved), nan=np.inf)  # unknown: solve another flow
    relative = np.maximum(errors[:, 0] / settings.depth_m, errors[:, 1] / settings.speed_m_s)
    for gap in np.argsort(-relative, kind="stable").tolist():
        if relative[gap] <= 1:
            return None
        low, high = solved.flows[gap : gap + 2].tolist()
        inside = [q for q in rungs if low * (1 + SAME_FLOW) < q < high * (1 - SAME_FLOW)]
        if inside:
            at, half = math.log(low * high) / 2, math.log(high / low) / 4
            return _nearest(inside, [q for q in preferred if q in inside], at, half)
    return None


def expected_errors(solved: SolvedFlows, errors: Sequence[LeftOut] | None = None) -> FloatArray:
    """Return the error expected in each gap between solved flows: depth [m], speed [m/s].

    Shape (gaps, 2); NaN with fewer than three flows. See `next_node`. `errors` are those of
    `left_out`, where they are known already.
    """
    errors = left_out(solved) if errors is None else errors
    nodes = np.log(solved.flows)
    found = np.full((nodes.size - 1, 2), np.nan)
    for one, k in zip(errors, range(1, nodes.size - 1), strict=True):
        for gap in (k - 1, k):
            share = (nodes[gap + 1] - nodes[gap]) / one.gap
            error = np.array([one.depth_rms_m, one.speed_rms_m_s]) * share
            found[gap] = np.fmax(found[gap], error)
    return found


def left_out(solved: SolvedFlows) -> tuple[LeftOut, ...]:
    """Return the error of each solved flow but the lowest and the highest when it is left out."""
    return tuple(_left_out(solved, k) for k in range(1, solved.flows.size - 1))


def _left_out(solved: SolvedFlows, k: int) -> LeftOut:
    """Return the error of one solved flow when it is left out."""
    flow = float(solved.flows[k])
    made = solved.without(k).water_at(flow)
    wet = solved.wet[k] & (solved.depth[k] > WET_M)
    both = made.wet & wet
    speed = np.hypot(solved.east[k], solved.north[k])
    depth_error = np.abs(made.depth - solved.depth[k])[both]
    speed_error = np.abs(made.speed - speed)[both]
    gap = math.log(solved.flows[k + 1] / solved.flows[k - 1])
    wet_share = float((made.wet != wet).sum() / wet.sum())
    return LeftOut(flow, gap, *_sizes(depth_error), *_sizes(speed_error), wet_share)


def _sizes(errors: FloatArray) -> tuple[float, float]:
    """Return the root mean square of errors, and the size that one in twenty exceeds."""
    return float(np.sqrt(np.mean(errors**2))), float(np.percentile(errors, 95))


def _nearest(rungs: Sequence[float], preferred: Sequence[float], at: float, half: float) -> float:
    """Return the flow whose logarithm is nearest to `at`; a preferred one if within `half`."""

    def away(flow: float) -> float:
        return abs(math.log(flow) - at)

    best = min(preferred, key=away, default=None)
    if best is not None and away(best) <= half:
        return best
    return min(rungs, key=away)
