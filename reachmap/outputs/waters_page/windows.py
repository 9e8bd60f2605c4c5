"""Windows of flow of a water's runs as bars on one scale, with the present flow marked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from reachmap.base.language import tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.planner.days import Days
from reachmap.planner.facts import RunFacts
from reachmap.text.numbers import list_words
from reachmap.text.waters import flow_now

MOST_RUNS = 8
"""Most runs whose bars are shown, in order of their present worth; the others are counted."""


@dataclass(frozen=True, slots=True)
class RunBar:
    """A run's windows: bars as start and width [% of the scale], and whether it fishes now.

    `words` is the same as text, for screen readers.
    """

    name: str
    bars: tuple[tuple[float, float], ...]
    now: bool
    words: str


@dataclass(frozen=True, slots=True)
class Windows:
    """Bars of a water's runs, present flow on the scale [%, None outside], ends of the scale.

    `others` is the number of runs in shape at some flow that are not shown.
    """

    runs: tuple[RunBar, ...]
    now: float | None
    low: str
    high: str
    others: int


def windows_of(days: Days, units: UnitSystem) -> Windows:
    """Return the windows of a water's runs, on a logarithmic scale of flow.

    A window extends, in ln flow, half-way to the next evaluated flow at which the run is not in
    shape; nothing finer is known between two evaluated flows.
    """
    flow, facts = flow_now(days), days.facts
    shown = [run for run in facts.runs if any(_fishes(run))]
    shown.sort(key=lambda run: (-_offer(run, flow), run.station_m))
    scale = _Scale(facts.flows[0], facts.flows[-1])
    inside = math.isfinite(flow) and facts.flows[0] <= flow <= facts.flows[-1]
    now = scale.at(flow) if inside else None
    return Windows(
        tuple(_bar(run, scale, now, units) for run in shown[:MOST_RUNS]),
        now,
        flow_words(facts.flows[0], units),
        flow_words(facts.flows[-1], units),
        max(len(shown) - MOST_RUNS, 0),
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    """Transformation of flows to the scale [%]."""

    low: float
    high: float

    def at(self, flow: float) -> float:
        """Return the position of a flow [%]; the middle where only one flow was evaluated."""
        if self.high <= self.low:
            return 50.0
        share = math.log(flow / self.low) / math.log(self.high / self.low)
        return 100.0 * min(max(share, 0.0), 1.0)


def _fishes(run: RunFacts) -> list[bool]:
    """Return for each flow whether a run is worth visiting."""
    return [one.in_shape and not one.shut for one in run.at]


def _offer(run: RunFacts, flow: float) -> float:
    """Return a run's worth at the evaluated flow nearest to a flow, 0 where it cannot be fished."""
    if not math.isfinite(flow):
        return max((one.offer for one in run.at if one.in_shape and not one.shut), default=0.0)
    nearest = min(run.at, key=lambda one: abs(math.log(one.flow / flow)))
    known = math.isfinite(nearest.offer) and nearest.in_shape and not nearest.shut
    return nearest.offer if known else 0.0


def _bar(run: RunFacts, scale: _Scale, now: float | None, units: UnitSystem) -> RunBar:
    """Return the bars of a run."""
    flows = [one.flow for one in run.at]
    edges = [flows[0], *(math.sqrt(a * b) for a, b in pairwise(flows))]
    edges.append(flows[-1])
    fishes = _fishes(run)
    bars, spans, begin = [], [], None
    for number, good in enumerate([*fishes, False]):
        if good and begin is None:
            begin = number
        elif not good and begin is not None:
            low, high = scale.at(edges[begin]), scale.at(edges[number])
            bars.append((low, max(high - low, 1.5)))
            ends = [flow_words(flows[k], units) for k in (begin, number - 1)]
            spans.append(
                ends[0] if ends[0] == ends[1] else tr("{low} to {high}", low=ends[0], high=ends[1])
            )
            begin = None
    there = now is not None and any(low <= now <= low + wide for low, wide in bars)
    return RunBar(run.name, tuple(bars), there, list_words(spans))
