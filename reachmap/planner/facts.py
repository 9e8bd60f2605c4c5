"""Facts of a built reach for the planner: plain values, kept as JSON with the build."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import geopandas as gpd
import numpy as np

from reachmap.angler import AnglerSettings, run_cut_off, run_minutes
from reachmap.angler.fly import FlyRow
from reachmap.base.words import Lack, WayIn
from reachmap.markup.middle import place_of
from reachmap.markup.model import Markup
from reachmap.planner.offer import best_odds_of, best_stretch, number_in, offered

VERSION = 6
"""Raised when the fields of the facts change."""

GEAR = ("cast", "rod", "head", "tip")
"""Columns of `stations` that make `RunAt.gear`."""

OWN_BOAT = "own boat"
"""`RunAt.way` of a run reached by boat, for those who have one."""


@dataclass(frozen=True, slots=True)
class RunAt:
    """A run at one mapped flow [m3/s].

    Parameters
    ----------
    score
        0 to 100, by flow alone; NaN unknown.
    why
        Words of `Lack`: what keeps it out of shape; empty where it is in shape.
    kind, side, prime, wade
        As in the table of runs by flow; empty where there is no such water.
    minutes
        To fish its best stretch once through, the whole run where there is none; NaN unknown.
    stretch_m
        Length of that stretch [m]; NaN for the whole run.
    open_until
        The last mapped flow at which the way back is open from all its places [m3/s]; infinite
        where no mapped flow cuts one off.
    way
        How one gets there: foot, boat (where one has none), own boat or unknown.
    gear
        Cast, rod, head and tip of most of its places; empty words where none is known.
    offer
        What the reading offers there, 0 to 100: the odds of a fish an hour as a share of the best
        of the reach at any flow, where the table has them; else the score.
    depth_m, speed_m_s
        Of its best water, where `offer` is the score; NaN where odds an hour have weighed them.
    shut
        Word of `Shut`: why it cannot be fished at that flow; empty where it can.
    mind
        Word of `Mind`: the one thing to mind there; empty where nothing is known.
    """

    flow: float
    label: str
    score: float
    in_shape: bool
    why: tuple[str, ...]
    kind: str
    side: str
    prime: bool
    wade: str
    minutes: float
    open_until: float
    way: str
    gear: tuple[str, ...]
    offer: float = math.nan
    depth_m: float = math.nan
    speed_m_s: float = math.nan
    shut: str = ""
    mind: str = ""
    stretch_m: float = math.nan


@dataclass(frozen=True, slots=True)
class RunFacts:
    """A run at every flow read, flows rising, with its place and its nearest access.

    `access` counts the accesses downstream, -1 for none drawn; `access_m` is how far off it is [m].
    """

    name: str
    station_m: float
    length_m: float
    access: int
    access_m: float
    at: tuple[RunAt, ...]


@dataclass(frozen=True, slots=True)
class ReachFacts:
    """A built reach for the planner.

    `shape_score` is the score from which on a run is in shape; `flows` and `labels` are those read,
    `pages` the labels of those with a page; `confidence` that of the bed at each flow, of the
    nearest with a page, NaN unknown; `accesses` the names of the accesses, downstream;
    `between_min` the minutes from one run to the next; `flies` the fly table; `wading_terms` the
    report's facts on how water was graded, None where it holds none; `both_banks` whether one gets
    across, `own_bank` the bank one keeps to, empty for the better one, `trip_hours` how long one
    fishes [h]. The gauge is left out: it is read anew.
    """

    name: str
    invented: bool
    preview: bool
    season: str
    longitude: float
    latitude: float
    gauge: str
    shape_score: float
    flows: tuple[float, ...]
    labels: tuple[str, ...]
    pages: tuple[str, ...]
    confidence: tuple[float, ...]
    accesses: tuple[str, ...]
    between_min: float
    flies: tuple[FlyRow, ...]
    runs: tuple[RunFacts, ...]
    wading_terms: Mapping[str, Any] | None = None
    both_banks: bool = False
    own_bank: str = ""
    trip_hours: float = math.inf

    @property
    def page_flows(self) -> tuple[float, ...]:
        """Return the flows with a page [m3/s], rising."""
        return tuple(self.flows[self.labels.index(label)] for label in self.pages)


def reach_facts(
    reach: Markup,
    report: Mapping[str, Any],
    layers: Mapping[str, gpd.GeoDataFrame],
    flows: Mapping[str, float],
    *,
    angler: AnglerSettings,
    shape_score: float,
    preview: bool,
) -> ReachFacts:
    """Return the facts of a built reach.

    Parameters
    ----------
    reach, report, layers
        Of the build; the layers over every flow read.
    flows
        Every flow read [m3/s] by its label, rising.
    angler
        Its settings, for the pace.
    shape_score
        From which score on a run is in shape.
    preview
        Whether the build was a quick one.
    """
    shown = {str(row["label"]): float(row["flow_m3_s"]) for row in report["flows"]}
    rows = {(str(row["run"]), str(row["flow_label"])): row for row in report["runs_by_flow"]}
    best, boat = best_odds_of(report["runs_by_flow"]), reach.plan.outing.boat
    ways, names = _accesses(reach)
    lasts = {
        label: run_minutes([str(run) for run in layers["runs"]["run"]], label, layers, angler)
        for label in flows
    }
    runs = []
    for run in layers["runs"].itertuples(index=False):
        middle = float(run.station_m + run.extent_m / 2)
        near = int(np.argmin(np.abs(ways - middle))) if ways.size else -1
        at = tuple(
            _run_at(
                rows[str(run.run), label], lasts[label][str(run.run)], layers, flows, best, boat
            )
            for label in flows
        )
        far = abs(float(ways[near]) - middle) if near >= 0 else math.nan
        runs.append(
            RunFacts(str(run.run), float(run.station_m), float(run.extent_m), near, far, at)
        )
    sure = report.get("confidence", {})
    nearest = [min(shown, key=lambda one: abs(math.log(shown[one] / q))) for q in flows.values()]
    longitude, latitude = place_of(reach)
    return ReachFacts(
        name=reach.plan.name,
        invented=bool(report.get("invented")),
        preview=preview,
        season=str(report["season"]),
        longitude=longitude,
        latitude=latitude,
        gauge="" if reach.gauge is None else reach.gauge.name,
        shape_score=shape_score,
        flows=tuple(flows.values()),
        labels=tuple(flows),
        pages=tuple(shown),
        confidence=tuple(number_in(sure.get(label)) for label in nearest),
        accesses=names,
        between_min=angler.pace.between_min,
        flies=angler.flies,
        runs=tuple(runs),
        wading_terms=_terms(report),
        both_banks=reach.plan.outing.both_banks,
        own_bank=str(reach.plan.outing.bank or ""),
        trip_hours=reach.plan.outing.hours,
    )


def _terms(report: Mapping[str, Any]) -> dict[str, Any] | None:
    """Return the report's facts on the grading, without the gauge."""
    values = report.get("wading_terms")
    if not isinstance(values, Mapping):
        return None
    return {str(name): value for name, value in values.items() if name != "gauge"}


def _accesses(reach: Markup) -> tuple[np.ndarray, tuple[str, ...]]:
    """Return where the accesses lie along the river [m], rising, and their names."""
    line = reach.main.line
    found = sorted(
        (float(line.project(one.place)), f"{one.kind}{f', {one.note}' if one.note else ''}")
        for one in reach.access
    )
    return np.array([station for station, _ in found]), tuple(name for _, name in found)


def _run_at(
    row: Mapping[str, Any],
    minutes: float,
    layers: Mapping[str, gpd.GeoDataFrame],
    flows: Mapping[str, float],
    best_odds: float,
    boat: bool,
) -> RunAt:
    """Return a run at one flow; `best_odds` as of `best_odds_of`, `boat` whether one has one."""
    run, label = str(row["run"]), str(row["flow_label"])
    unknown = row["why"] == Lack.UNKNOWN
    score = math.nan if unknown else number_in(row["score"])
    offer, depth, speed = offered(row, score, best_odds)
    water = layers["water"]
    codes = water.loc[(water["run"] == run) & (water["flow_label"] == label), "code"]
    stands = layers["stations"]
    stands = stands[stands["water"].isin(codes) & (stands["flow_label"] == label)]
    time, stretch = best_stretch(row, minutes)
    return RunAt(
        flow=float(flows[label]),
        label=label,
        score=score,
        in_shape=bool(row["in_shape"]),
        why=tuple(str(one) for one in (row["why"], row["why_too"]) if one),
        kind=str(row["kind"] or ""),
        side=str(row["side"] or ""),
        prime=bool(row["prime"]),
        wade=str(row["wade"] or ""),
        minutes=time,
        open_until=_open_until(run, label, layers, max(flows.values())),
        way=own_way(_most(stands["access"]) if len(stands) else "unknown", boat=boat),
        gear=tuple(_most(stands[name]) for name in GEAR),
        offer=math.nan if unknown else offer,
        depth_m=depth,
        speed_m_s=speed,
        shut=str(row.get("shut") or ""),
        mind=str(row.get("mind") or ""),
        stretch_m=stretch,
    )


def boats_only(at: Iterable[RunAt]) -> bool:
    """Return whether a boat that nobody has is the one known way to all that is in shape."""
    ways = {one.way for one in at if one.in_shape} - {"unknown"}
    return ways == {str(WayIn.BOAT)}


def own_way(way: str, *, boat: bool) -> str:
    """Return how one gets to a run: a boat's way is one's own for who comes by boat."""
    return OWN_BOAT if way == WayIn.BOAT and boat else way


def _open_until(
    run: str, label: str, layers: Mapping[str, gpd.GeoDataFrame], highest: float
) -> float:
    """Return the last mapped flow at which the way back from a run is open [m3/s].

    Found with a made-up forecast that rises above every mapped flow.
    """
    above_all = np.array([highest * 2])
    found = run_cut_off(run, label, layers, [np.datetime64(0, "s")], above_all)
    return found.open_until_m3_s if found.place else math.inf


def _most(words: Any) -> str:
    """Return the most frequent word; empty where there is none."""
    full = words.dropna().astype(str)
    full = full[full != ""]
    return str(full.mode().iloc[0]) if len(full) else ""


def columns(run: RunFacts, name: str) -> np.ndarray:
    """Return one field of a run at every mapped flow, shape (flows,)."""
    if name not in {field.name for field in fields(RunAt)}:
        msg = f"a run has no {name}"
        raise ValueError(msg)
    return np.array([getattr(one, name) for one in run.at])


def nearest(flow: float, flows: Sequence[float]) -> int:
    """Return the position of the mapped flow nearest to a flow [m3/s] by ratio."""
    return int(np.argmin(np.abs(np.log(np.array(flows) / flow))))


def between(flow: float, flows: Sequence[float]) -> tuple[int, int]:
    """Return the positions of the mapped flows below and above a flow [m3/s], both within range."""
    above = int(np.clip(np.searchsorted(flows, flow), 0, len(flows) - 1))
    below = above if flows[above] <= flow or above == 0 else above - 1
    return below, above
