"""A stretch of the sample river run from its drawing to where one fishes first, in memory.

A stage is run anew only where one of its own numbers, or of a stage before it, has changed: what
the angler does is not looked at again for a number of the corridor, the lies or the structure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from scipy.stats import kendalltau
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from reachmap import flow, water
from reachmap.angler.assess import Assessed, assess_flow
from reachmap.angler.interception.density import Presence
from reachmap.angler.interception.join import FlowPlaces
from reachmap.angler.interception.settings import InterceptionSettings, Member
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.view import view_of
from reachmap.angler.wading import CAREFUL, EASY, grade_water
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.fields import with_labels
from reachmap.flow import FlowSettings
from reachmap.ground import GroundSettings
from reachmap.markup.model import Markup
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.terrain import make_terrain
from reachmap.water import Reading, WaterSettings
from scripts.sensitivity_fields import with_values

SAMPLE = Path(__file__).resolve().parent.parent / "data_samples" / "madeup_river"
STRETCH = 1050.0, 1900.0
"""Ends of the stretch along the main line [m]: a bend, a riffle, an island, a side channel."""
REACH_M = 140.0
"""Ground kept to either side of the main line [m]."""
FLOWS = 0, 3
"""Which of the sample's flows are waded: the lowest and a middle one; water is read and fished at
the last of them alone."""
OUTPUTS: Mapping[str, str] = {
    "waded": "water graded easy or careful, % of the wet area",
    "soft": "area of the pieces of water, ha",
    "order": "pairs of stretches of bank that change order by their odds, %",
    "depth": "median depth, m",
}
"""What is read from a run: of wading and depth over both flows."""
UNSEEN = ("lanes", "corridor", "bed_forms", "lies", "structure", "runs")
"""Groups of the water's numbers that change no piece of water, and so nothing an angler does."""
AFTER = ("take_s", "even_share", "near_m", "setup_min", "prime_low_m", "prime_high_m", "gap_m")
"""Numbers of the score that change nothing of what a cast covers."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """How fish and fly meet: the numbers of the score, and one reading of the fish.

    A build averages over seven readings; here one is moved within what they span.
    """

    rules: InterceptionSettings = field(default_factory=InterceptionSettings)
    fish: Member = field(default_factory=Member)

    @property
    def settings(self) -> InterceptionSettings:
        """Return the score's settings with this reading alone."""
        return replace(self.rules, members=(self.fish,))


BIN_M = 20.0
"""Length of the stretches of bank that are put in order [m]: there are too few runs here to be put
in any."""

Values = Mapping[str, float]


def cut_reach(reach: Markup, ends: tuple[float, float] = STRETCH) -> Markup:
    """Return the part of a drawing along a stretch of its main line; speeds and runs are left out.

    Parameters
    ----------
    reach
        The drawing.
    ends
        Station of the stretch's upper and lower end [m].
    """
    zone = substring(reach.main.line, *ends).buffer(REACH_M, cap_style="flat")
    lines = [(one, _largest(one.line.intersection(zone), "LineString")) for one in reach.rivers]
    banks = [
        replace(bank, outline=part)
        for bank in reach.banks
        for part in _parts(bank.outline.intersection(zone), "Polygon")
    ]
    edges = [
        replace(edge, shape=part)
        for edge in reach.edges
        for part in _parts(edge.shape.intersection(zone), edge.shape.geom_type)
    ]
    marks = {
        name: tuple(one for one in getattr(reach, name) if zone.contains(one.place))
        for name in ("soundings", "levels", "trees", "rocks", "access")
    }
    return replace(
        reach,
        rivers=tuple(replace(one, line=line) for one, line in lines if line is not None),
        banks=tuple(banks),
        edges=tuple(edges),
        hazards=tuple(one for one in reach.hazards if zone.contains(one.shape)),
        speeds=(),
        runs=(),
        **marks,
    )


def _parts(shape: BaseGeometry, kind: str) -> list[Any]:
    """Return the parts of a shape that are of a kind."""
    return [part for part in getattr(shape, "geoms", [shape]) if part.geom_type == kind and part]


def _largest(shape: BaseGeometry, kind: str) -> Any | None:
    """Return the longest part of a kind; None if there is none."""
    return max(_parts(shape, kind), key=lambda part: part.length, default=None)


def usual_settings(reach: Markup) -> dict[str, Any]:
    """Return the settings of each stage that is looked at, by its name.

    The flow is the one-dimensional preview; margins of wading are those of a full map, since with
    a preview's next to no water of this stretch would be graded at all.
    """
    usual = settings_for(reach, Options())
    return {
        "ground": usual.ground,
        "flow": replace(usual.flow, method="profile"),
        "water": usual.water,
        "wading": usual.angler.wading,
        "meeting": Meeting(usual.angler.interception),
    }


def model_of(reach: Markup) -> Callable[[Values], dict[str, float]]:
    """Return the function from values of the numbers, by path, to the outputs.

    What is not among the values keeps its default.
    """
    return _Model(reach).run


class _Model:
    """The stages of a drawing, each run anew only where its own numbers changed."""

    def __init__(self, reach: Markup) -> None:
        """Run it as shipped."""
        self.reach = reach
        self.usual = usual_settings(reach)
        self.person = settings_for(reach, Options()).angler
        self.flows = [reach.plan.flows[index] for index in FLOWS]
        self.ground_of = lru_cache(maxsize=2)(lambda ground: make_terrain(reach, ground, None))
        self.flow_of = lru_cache(maxsize=2)(self._flow_of)
        self.water_of = lru_cache(maxsize=2)(self._water_of)
        self.waded_of = lru_cache(maxsize=2)(self._waded_of)
        self.held: dict[Any, Assessed] = {}
        shipped = self.water_of(self.usual["ground"], self.usual["flow"], self.usual["water"])
        self.start = self.odds_of(self.usual, shipped)

    def run(self, values: Values) -> dict[str, float]:
        """Return the outputs."""
        now = {stage: with_values(one, _below(values, stage)) for stage, one in self.usual.items()}
        below = now["ground"], now["flow"]
        reading = self.water_of(*below, now["water"])
        depths = [one["depth"].to_numpy() for one in self.flow_of(*below)[0]]
        return {
            "waded": self.waded_of(*below, now["wading"]),
            "soft": float(reading.layers["water"].area.sum()) / 1e4,
            "order": turned_pairs(self.start, self.odds_of(now, reading)),
            "depth": float(np.mean([np.nanmedian(depth[depth > 0]) for depth in depths])),
        }

    def _flow_of(
        self, ground: GroundSettings, how: FlowSettings
    ) -> tuple[list[xr.Dataset], xr.Dataset]:
        """Return the flows, and the river on the day of the terrain model."""
        terrain = self.ground_of(ground)
        solved = with_labels(flow.solve(terrain, self.flows, how), self.reach.plan.units)
        day = flow.solve(terrain, [float(terrain.attrs["low_flow"])], how)
        return [solved.isel(flow=[index]) for index in range(len(self.flows))], day

    def _water_of(self, ground: GroundSettings, how: FlowSettings, rules: WaterSettings) -> Reading:
        """Return the reading of the last flow."""
        return water.read_water(self.ground_of(ground), self.flow_of(ground, how)[0][-1], rules)

    def _waded_of(self, ground: GroundSettings, how: FlowSettings, rules: WadingSettings) -> float:
        """Return the share of the wet area that is graded [%]."""
        terrain, (solved, day) = self.ground_of(ground), self.flow_of(ground, how)
        graded = wet = 0
        for one in solved:
            view = view_of(terrain, one, day)
            wading = grade_water(view, self.reach.hazards, self.reach.plan.kit.angler, rules)
            graded += int((view.wet & np.isin(wading.grade, (EASY, CAREFUL))).sum())
            wet += int(view.wet.sum())
        return 100.0 * graded / wet

    def _fished(self, now: Mapping[str, Any], reading: Reading, how: AnglerSettings) -> Assessed:
        """Return what a person can do; what was found is kept under what it hangs on."""
        unseen = {name: getattr(self.usual["water"], name) for name in UNSEEN}
        first = self.usual["meeting"].rules
        after = {name: getattr(first, name) for name in AFTER}
        swept = replace(how.interception, members=(), **after)
        key = now["ground"], now["flow"], replace(now["water"], **unseen), now["wading"], swept
        if key not in self.held:
            if len(self.held) > 2:  # the first is as shipped, and is come back to
                del self.held[list(self.held)[1]]
            solved, day = self.flow_of(now["ground"], now["flow"])
            terrain, pieces = self.ground_of(now["ground"]), reading.layers["water"]
            self.held[key] = assess_flow(
                terrain, solved[-1], pieces, self.reach, how, terrain_day=day
            )
        return self.held[key]

    def odds_of(self, now: Mapping[str, Any], reading: Reading) -> dict[str, float]:
        """Return the odds that each stretch of bank adds to those of its run, by name."""
        rules = now["water"]
        how = replace(
            self.person,
            wading=now["wading"],
            interception=now["meeting"].settings,
            clarity_m=rules.clarity_m,
            clarity_law=rules.clarity_law,
            pace=replace(self.person.pace, clear_m=rules.clear_m),
        )
        assessed = self._fished(now, reading, how)
        solved = self.flow_of(now["ground"], now["flow"])[0][-1]
        label = str(solved["asked"].to_numpy()[0])
        pieces, stands = (
            one.assign(flow_label=label)
            for one in (reading.layers["water"], assessed.layers["stations"])
        )
        followed, _ = water.follow_runs(pieces, self.ground_of(now["ground"]), (), rules)
        met = Presence.of_dataset(reading.presence), assessed.swept
        fished = FlowPlaces.of(stands, followed, label, met, how)
        scored = fished.scored(self.reach.plan.outing)
        added: dict[str, float] = {}
        for one in scored.runs.values():
            places = stands.iloc[one.places]
            where = (places["station_m"] // BIN_M).astype(int)
            for side, at, share in zip(places["side"], where, one.share, strict=True):
                name = f"{side} {at}"
                added[name] = added.get(name, 0.0) + float(share)
        return added


def _below(values: Values, stage: str) -> dict[str, float]:
    """Return the values of one stage by their paths below it."""
    head = f"{stage}."
    return {name.removeprefix(head): one for name, one in values.items() if name.startswith(head)}


def turned_pairs(before: Mapping[str, float], after: Mapping[str, float]) -> float:
    """Return how many of the pairs of stretches of bank stand in another order than before [%].

    Parameters
    ----------
    before, after
        Odds of each stretch by name; one that is in one of them alone has none in the other, 0.

    Notes
    -----
    50 (1 - Kendall's tau-b): 0 the same order, 50 none left, 100 the order turned round. Where all
    score the same no order is left.
    """
    names = sorted({*before, *after})
    if len(names) < 2:
        return 0.0
    one, other = ([odds.get(name, 0.0) for name in names] for odds in (before, after))
    tau = kendalltau(one, other).statistic
    return 50.0 * float(1.0 - (tau if np.isfinite(tau) else 0.0))
