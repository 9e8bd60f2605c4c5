"""Grouping of pieces of water over all flows into runs: one run is fished as one stretch."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations

import geopandas as gpd
import numpy as np
from shapely import Polygon, union
from shapely.geometry.base import BaseGeometry

from reachmap.base.grouped import rows_of
from reachmap.base.words import Side, WaterKind
from reachmap.water.settings import RunSettings, ScoreSettings, WaterSettings

PIECE = ("kind", "side", "flow", "score", "station_m", "station_end_m", "geometry")
"""Columns of the layer `water` that say which run a piece belongs to."""

Span = tuple[float, float]


@dataclass(slots=True)
class Run:
    """A run being put together: where its anchor lies, and which rows of the water are its own.

    `side` is empty where nothing says yet on which bank it lies; `spans` are its members' stretches
    along the river [m], by flow; `worth` is its anchor's score times length.
    """

    name: str
    named_by: str
    side: str
    start: float
    end: float
    shape: BaseGeometry
    worth: float = 0.0
    outline: Polygon | None = None
    members: list[int] = field(default_factory=list)
    spans: dict[float, list[Span]] = field(default_factory=dict)

    def add(self, index: int, flow: float, span: Span) -> None:
        """Take a piece of water in."""
        self.members.append(index)
        self.spans.setdefault(flow, []).append(span)

    def whole(self, flow: float, more: Iterable[Span]) -> float:
        """Return from end to end how long the run would be at a flow with more water [m]."""
        every = [*self.spans.get(flow, []), *more]
        return max(end for _, end in every) - min(start for start, _ in every)


def gather_runs(pieces: gpd.GeoDataFrame, width: float, settings: WaterSettings) -> list[Run]:
    """Return the runs with their members, best first, without names.

    Parameters
    ----------
    pieces
        The `water` layers of all flows, stacked, with a plain index.
    width
        The river's usual width [m].
    settings
        Least score and length of a run, and its longest stretch.

    Notes
    -----
    The best piece (score times length) anchors a run and gathers what matches it: pieces on its
    side, near it, that share half of the shorter one's length along the river. The anchor does not
    move, so that runs never grow into each other. Then short runs one below the other on one bank
    are joined. At no flow is a run longer than the longest stretch one fishes as one.
    """
    runs: list[Run] = []
    score, rules = settings.score, settings.runs
    near, longest = rules.apart_widths * width, rules.spare * score.length_high_m
    rows, worth = rows_of(pieces, PIECE), pieces["score"] * pieces["length_m"]
    for number in worth.sort_values(ascending=False, kind="stable").index:
        piece = rows[int(number)]
        span = (float(piece["station_m"]), float(piece["station_end_m"]))
        run = _match(piece, span, runs, (near, longest), rules)
        if run is None and float(piece["score"]) >= score.shape_score:
            run = _anchored(piece, span)
            runs.append(run)
        if run is not None:
            run.add(int(number), float(piece["flow"]), span)
            run.side = run.side or side_of_piece(piece)
    return _joined(runs, rules.join_widths * width, longest, settings)


def long_enough(run: Run, settings: ScoreSettings) -> bool:
    """Return whether a run is long enough at some flow to be one."""
    return any(covered_length(s) >= settings.run_length_m for s in run.spans.values())


def side_of_piece(piece: np.void) -> str:
    """Return a piece's bank; empty for a tailout, which lies from bank to bank."""
    return "" if piece["kind"] == WaterKind.TAILOUT else str(piece["side"])


def one_side(a: str, b: str) -> bool:
    """Return whether two sides may be one: an island's edge is some channel's left or right."""
    return a == b or "" in (a, b) or Side.ISLAND in (a, b)


def overlap(a: Span, b: Span) -> float:
    """Return the common length of two stretches over the shorter one's, 0 to 1."""
    common = min(a[1], b[1]) - max(a[0], b[0])
    shorter = min(a[1] - a[0], b[1] - b[0])
    return min(max(common / shorter, 0.0), 1.0) if shorter > 0 else 0.0


def covered_length(spans: Iterable[Span]) -> float:
    """Return the length that intervals cover, overlaps counted once.

    Examples
    --------
    >>> covered_length([(0, 10), (5, 20), (40, 45)])
    25.0
    """
    total, end = 0.0, -math.inf
    for low, high in sorted((float(a), float(b)) for a, b in spans):
        total += max(high - max(low, end), 0.0)
        end = max(end, high)
    return total


def _anchored(piece: np.void, span: Span) -> Run:
    """Return a new run anchored on a piece."""
    return Run(
        name="",
        named_by="reachmap",
        side=side_of_piece(piece),
        start=span[0],
        end=span[1],
        shape=piece["geometry"],
        worth=float(piece["score"]) * (span[1] - span[0]),
    )


def _match(
    piece: np.void, span: Span, runs: list[Run], most: tuple[float, float], rules: RunSettings
) -> Run | None:
    """Return the run a piece belongs to; None where it fits none.

    `most` is how far apart they may lie and how long a run may be [m]. Of those it may belong to
    the one that it overlaps most along the river, lies nearest to and shares its bank with.
    """
    best, found, side = 0.0, None, side_of_piece(piece)
    near, longest = most
    for run in runs:
        common = overlap(span, (run.start, run.end))
        if common < max(rules.overlap_low, best) or not one_side(run.side, side):
            continue
        if run.whole(float(piece["flow"]), [span]) > longest:
            continue
        apart = float(piece["geometry"].distance(run.shape))
        if apart > near:
            continue
        fit = common * (1.0 - 0.5 * apart / near)
        fit *= 1.0 if side in ("", run.side) else rules.other_side_fit
        if fit > best:
            best, found = fit, run
    return found


def _gap(a: Span, b: Span) -> float:
    """Return how far apart along the river two stretches lie [m]; negative where they overlap."""
    return max(a[0], b[0]) - min(a[1], b[1])


def _joined(runs: list[Run], gap: float, longest: float, settings: WaterSettings) -> list[Run]:
    """Return the runs, short ones (under `length_full_m`) joined to a neighbour on their bank.

    The least worth go first, each to its nearest neighbour.
    """
    left = list(runs)
    while True:
        pairs = [
            (min(a.worth, b.worth), max(_gap((a.start, a.end), (b.start, b.end)), 0.0), i, j)
            for (i, a), (j, b) in combinations(enumerate(left), 2)
            if _may_join(a, b, gap, longest, settings)
        ]
        if not pairs:
            return left
        _, _, i, j = min(pairs)
        keep, gone = sorted((left[i], left[j]), key=lambda run: -run.worth)
        _join(keep, gone)
        left.remove(gone)


def _may_join(a: Run, b: Run, gap: float, longest: float, settings: WaterSettings) -> bool:
    """Return whether two runs are one stretch of bank, never longer than `longest` [m]."""
    spans = (a.start, a.end), (b.start, b.end)
    if not one_side(a.side, b.side) or abs(_gap(*spans)) > gap:
        return False
    if min(end - start for start, end in spans) >= settings.score.length_full_m:
        return False
    if a.shape.distance(b.shape) > settings.runs.join_apart * gap:
        return False
    whole = max(a.end, b.end) - min(a.start, b.start)
    return whole <= longest and all(
        a.whole(flow, b.spans.get(flow, [])) <= longest for flow in a.spans
    )


def _join(keep: Run, gone: Run) -> None:
    """Put one run into another."""
    keep.start, keep.end = min(keep.start, gone.start), max(keep.end, gone.end)
    keep.shape = union(keep.shape, gone.shape)
    keep.side = keep.side or gone.side
    keep.members += gone.members
    for flow, spans in gone.spans.items():
        keep.spans.setdefault(flow, []).extend(spans)
