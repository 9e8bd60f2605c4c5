"""A stretch of the sample river run from its drawing to where one fishes first, in memory.

A stage is run anew only where one of its own numbers has changed, or what it takes from a stage
before it: a number that leaves the ground as it was solves no flow, and one that leaves the pieces
of water as they were asks nothing of the angler.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from hashlib import blake2b
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
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
    "seams": "length of the seams, m",
}
"""What is read from a run: of wading and depth over both flows. The preview draws no seam."""
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


def usual_settings(reach: Markup, method: str = "profile") -> dict[str, Any]:
    """Return the settings of each stage that is looked at, by its name.

    The flow is by `method`, the one-dimensional preview if not told; margins of wading are those of
    a full map, since with a preview's next to no water of this stretch would be graded at all.
    """
    usual = settings_for(reach, Options())
    return {
        "ground": usual.ground,
        "flow": replace(usual.flow, method=method),
        "water": usual.water,
        "wading": usual.angler.wading,
        "meeting": Meeting(usual.angler.interception),
    }


def model_of(reach: Markup, method: str = "profile") -> Callable[[Values], dict[str, float]]:
    """Return the function from values of the numbers, by path, to the outputs.

    What is not among the values keeps its default.
    """
    return _Model(reach, method).run


class _Kept:
    """The last few results of a stage, by what it took."""

    def __init__(self, stage: Callable[..., Any], most: int = 3) -> None:
        """Keep `most` results; the first is as shipped, and stays."""
        self.stage, self.most = stage, most
        self.found: dict[Any, Any] = {}

    def __call__(self, key: Any, *told: Any, **more: Any) -> Any:
        """Return the stage's result for a key, worked out of what is told if it is not kept."""
        if key not in self.found:
            if len(self.found) >= self.most:
                del self.found[list(self.found)[1]]
            self.found[key] = self.stage(*told, **more)
        return self.found[key]


@dataclass(frozen=True, slots=True)
class River:
    """The river by the settings of ground and flow.

    Parameters
    ----------
    terrain, solved, day
        The ground, the flows, and the river on the day of the terrain model.
    mark
        The same for the same numbers in all three.
    """

    terrain: xr.Dataset
    solved: list[xr.Dataset]
    day: xr.Dataset
    mark: str


class _Model:
    """The stages of a drawing, each run anew only where what it takes has changed."""

    def __init__(self, reach: Markup, method: str) -> None:
        """Run it as shipped."""
        self.reach = reach
        self.usual = usual_settings(reach, method)
        self.person = settings_for(reach, Options()).angler
        self.flows = [reach.plan.flows[index] for index in FLOWS]
        self.ground_of, self.flow_of = _Kept(self._ground_of), _Kept(self._flow_of)
        self.water_of, self.waded_of = _Kept(water.read_water), _Kept(self._waded_of)
        self.fished = _Kept(assess_flow)
        river = self.river_of(self.usual)
        self.start = self.odds_of(self.usual, river, self.reading_of(self.usual, river))

    def run(self, values: Values) -> dict[str, float]:
        """Return the outputs."""
        now = {stage: with_values(one, _below(values, stage)) for stage, one in self.usual.items()}
        river = self.river_of(now)
        reading = self.reading_of(now, river)
        depths = [one["depth"].to_numpy() for one in river.solved]
        rules = now["wading"]
        return {
            "waded": self.waded_of((river.mark, rules), river, rules),
            "soft": float(reading.layers["water"].area.sum()) / 1e4,
            "order": turned_pairs(self.start, self.odds_of(now, river, reading)),
            "depth": float(np.mean([np.nanmedian(depth[depth > 0]) for depth in depths])),
            "seams": float(reading.layers["seams"].length.sum()),
        }

    def river_of(self, now: Mapping[str, Any]) -> River:
        """Return the river."""
        terrain, mark = self.ground_of(now["ground"], now["ground"])
        river: River = self.flow_of((mark, now["flow"]), terrain, now["flow"])
        return river

    def reading_of(self, now: Mapping[str, Any], river: River) -> Reading:
        """Return the reading of the last flow."""
        rules: WaterSettings = now["water"]
        key = river.mark, rules
        reading: Reading = self.water_of(key, river.terrain, river.solved[-1], rules)
        return reading

    def _ground_of(self, how: GroundSettings) -> tuple[xr.Dataset, str]:
        """Return the ground and its mark."""
        terrain = make_terrain(self.reach, how, None)
        return terrain, mark_of(terrain)

    def _flow_of(self, terrain: xr.Dataset, how: FlowSettings) -> River:
        """Return the flows, and the river on the day of the terrain model."""
        solved = with_labels(flow.solve(terrain, self.flows, how), self.reach.plan.units)
        day = flow.solve(terrain, [float(terrain.attrs["low_flow"])], how)
        each = [solved.isel(flow=[index]) for index in range(len(self.flows))]
        return River(terrain, each, day, mark_of(terrain, solved, day))

    def _waded_of(self, river: River, rules: WadingSettings) -> float:
        """Return the share of the wet area that is graded [%]."""
        graded = wet = 0
        for one in river.solved:
            view = view_of(river.terrain, one, river.day)
            wading = grade_water(view, self.reach.hazards, self.reach.plan.kit.angler, rules)
            graded += int((view.wet & np.isin(wading.grade, (EASY, CAREFUL))).sum())
            wet += int(view.wet.sum())
        return 100.0 * graded / wet

    def _assessed(self, river: River, pieces: gpd.GeoDataFrame, how: AnglerSettings) -> Assessed:
        """Return what a person can do in the last flow."""
        first = self.usual["meeting"].rules
        after = {name: getattr(first, name) for name in AFTER}
        swept = replace(how.interception, members=(), **after)
        key = river.mark, _mark_of_frame(pieces), repr(replace(how, interception=swept))
        told = river.terrain, river.solved[-1], pieces, self.reach, how
        assessed: Assessed = self.fished(key, *told, terrain_day=river.day)
        return assessed

    def odds_of(self, now: Mapping[str, Any], river: River, reading: Reading) -> dict[str, float]:
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
        assessed = self._assessed(river, reading.layers["water"], how)
        label = str(river.solved[-1]["asked"].to_numpy()[0])
        pieces, stands = (
            one.assign(flow_label=label)
            for one in (reading.layers["water"], assessed.layers["stations"])
        )
        followed, _ = water.follow_runs(pieces, river.terrain, (), rules)
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


def mark_of(*sets: xr.Dataset) -> str:
    """Return a mark that is the same for the same numbers and facts in all of these."""
    told = blake2b(digest_size=16)
    for one in sets:
        told.update(repr(sorted(one.attrs.items())).encode())
        for name in sorted(one.variables, key=str):
            values = np.ascontiguousarray(one[name].to_numpy())
            told.update(f"{name} {values.shape} {values.dtype}".encode())
            told.update(repr(values.tolist()).encode() if values.dtype.kind in "OU" else values)
    return told.hexdigest()


def _mark_of_frame(frame: gpd.GeoDataFrame) -> str:
    """Return a mark that is the same for the same rows."""
    rows = pd.DataFrame(frame.drop(columns="geometry")).to_csv(float_format="%r")
    shapes = b"".join(frame.geometry.to_wkb())
    return blake2b(shapes + rows.encode(), digest_size=16).hexdigest()


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
