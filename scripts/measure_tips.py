"""Set a tip chosen by the odds against one chosen by the swim: python -m scripts.measure_tips.

    python -m scripts.measure_tips [--river NAME ...] [--built FOLDER OUT] [--keep FILE.csv]

A tip is tied on for some 80 m of bank: the one whose swings are worth most by the share of the
strip they swim as wanted (`angler/tip_search.py`). Here it is chosen a second way: of the same
tips, each with its own best casts at the scouts, the one whose casts meet most of the fish's time a
minute (`angler/interception/`), a heavier one only where it meets `tip_gain` more. Everything else
is worked out as usual, and both are scored alike, on made rivers (`scripts/score_rivers.py`) on
their true beds at three flows each, and on a folder that was built (`--built`).

Told for each: groups of places that got another tip, and the change of the runs' odds an hour.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap import flow, water  # noqa: E402
from reachmap.angler import AnglerSettings, search  # noqa: E402
from reachmap.angler.assess import Assessed, assess_flow, wanted_pace  # noqa: E402
from reachmap.angler.interception.density import Presence  # noqa: E402
from reachmap.angler.interception.join import FlowPlaces  # noqa: E402
from reachmap.angler.interception.runs import Fish, RunOdds  # noqa: E402
from reachmap.angler.interception.swings import swept_at  # noqa: E402
from reachmap.angler.pace import cast_seconds  # noqa: E402
from reachmap.angler.tip_search import Search, Waters, group_tips  # noqa: E402
from reachmap.angler.tries import make_tries, swing_tries  # noqa: E402
from reachmap.base.arrays import FloatArray, IntArray  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import Strip, UnitSystem  # noqa: E402
from reachmap.flow.notes import one_flow_of, repacked  # noqa: E402
from reachmap.markup import read_markup  # noqa: E402
from reachmap.markup.model import Markup  # noqa: E402
from reachmap.pipeline.order import begin_job  # noqa: E402
from reachmap.pipeline.settings import settings_for  # noqa: E402
from reachmap.pipeline.solving import solve_reach  # noqa: E402
from reachmap.pipeline.stamp import stored_options  # noqa: E402
from reachmap.water import Reading, WaterSettings, read_water  # noqa: E402
from scripts.score_and_length import ENGINE, markup_of, standard_plan  # noqa: E402
from scripts.score_rivers import rivers  # noqa: E402

RIVERS = "winding", "planted structures", "bends, 50 m", "canyon, 28 m", "creek, 12 m"
"""Made rivers that are taken where none is named: of five forms, four widths."""
BUILT_AT = 600.0, 900.0, 1800.0, 2400.0, 4200.0
"""Flows of a built folder, in its units."""


@dataclass
class Tally:
    """Groups of places that were asked, and those that got another tip."""

    groups: int = 0
    other: int = 0
    gain: float = 0.0

    def add(self, usual: IntArray, mine: IntArray, scores: FloatArray) -> None:
        """Count the groups for which something is met with any tip."""
        met = np.nan_to_num(scores).max(axis=1, initial=0.0) > 0
        at = np.flatnonzero(met)
        self.groups += int(met.sum())
        self.other += int((usual != mine)[met].sum())
        with np.errstate(divide="ignore", invalid="ignore"):
            more = np.log(scores[at, mine[at]] / scores[at, usual[at]])
        self.gain += float(np.nan_to_num(more, posinf=0.0, neginf=0.0).sum())


def odds_of_tips(found: Search, scouts: IntArray, waters: Waters, fish: Fish) -> FloatArray:
    """Return the odds a minute of each tip for each group, with its best casts at the scouts.

    Shape (groups, tips), NaN where a tip was tried at none of them.
    """
    scene, settings = found.scene, found.scene.settings
    scores = np.full((waters.count, found.worth.shape[1]), np.nan)
    row, tip = np.nonzero(found.worth[scouts] > -np.inf)
    place, tip = scouts[row].astype(np.int32), tip.astype(np.int32)
    if not place.size:
        return scores
    at = place, tip
    lot = make_tries(
        place, found.angle[at], found.cast[at], tip,
        mends=found.mends[at], fed=found.fed[at], high=found.high[at],
    )  # fmt: skip
    judged, track = swing_tries(scene, lot, found.aims.target_rad, Strip.INSIDE, found.line)
    pace = wanted_pace(settings.season, settings)
    swept = swept_at(scene.view, track, scene.stands.down[place], pace, settings)
    meet = settings.interception
    share, _ = fish.at(swept.cell)
    view = np.array([member.view for member in meet.members])[:, None] ** 2
    met = (share * (1.0 - np.exp(-view * swept.seconds / meet.take_s))).mean(axis=0)
    each = np.bincount(swept.place, met, minlength=len(lot))
    stripped = lot.cast_m - settings.pace.held_m
    minutes = np.array(
        [
            cast_seconds(float(s), float(more), settings.pace) / 60.0
            for s, more in zip(judged.seconds, stripped, strict=True)
        ]
    )
    group = waters.group[place]
    for number in np.unique(group):
        count = np.unique(place[group == number]).size
        for one in np.unique(tip[group == number]):
            mine = (group == number) & (tip == one)
            # a scout that a tip does not serve meets nothing, and takes as long as the others
            scores[number, one] = each[mine].sum() / (minutes[mine].mean() * count)
    return scores


def by_odds(scores: FloatArray, allowed: list[IntArray], gain: float) -> IntArray:
    """Return the tip of each group: a heavier one only where it meets `gain` more, as a share."""
    chosen = np.array([int(tips[0]) for tips in allowed], dtype=np.int32)
    for group, tips in enumerate(allowed):
        best = -np.inf
        for tip in tips:
            score = scores[group, tip]
            if np.isfinite(score) and score > best * (1.0 + gain if best > 0 else 1.0):
                best, chosen[group] = score, tip
    return chosen


@contextmanager
def one_of_likely(number: int) -> Iterator[None]:
    """Let every group of the near strip take the so-manieth of its likely tips, lightest first."""

    def instead(
        found: Search, scouts: IntArray, waters: Waters, allowed: list[IntArray]
    ) -> IntArray:
        if found.strip is not Strip.INSIDE:
            return group_tips(found, scouts, waters, allowed)
        return np.array([int(tips[min(number, len(tips) - 1)]) for tips in allowed], np.int32)

    search.group_tips = instead
    try:
        yield
    finally:
        search.group_tips = group_tips


@contextmanager
def chosen_by_odds(fish: Fish, tally: Tally) -> Iterator[None]:
    """Let the tip of the near strip be chosen by the odds, and count the other ones."""

    def instead(
        found: Search, scouts: IntArray, waters: Waters, allowed: list[IntArray]
    ) -> IntArray:
        usual = group_tips(found, scouts, waters, allowed)
        if found.strip is not Strip.INSIDE:
            return usual
        scores = odds_of_tips(found, scouts, waters, fish)
        mine = by_odds(scores, allowed, found.scene.settings.plan.tip_gain)
        served = np.isfinite(scores).any(axis=1)
        mine = np.where(served, mine, usual)
        tally.add(usual, mine, scores)
        return mine

    search.group_tips = instead
    try:
        yield
    finally:
        search.group_tips = group_tips


@dataclass(frozen=True, slots=True)
class Flow:
    """A flow of a river: what the angler's part takes, and what the water was read as."""

    name: str
    label: str
    ground: xr.Dataset
    flow: xr.Dataset
    reading: Reading
    markup: Markup
    how: AnglerSettings
    then: xr.Dataset | None = None

    def assessed(self) -> Assessed:
        """Return what a person can do there."""
        return assess_flow(
            self.ground, self.flow, self.reading.layers["water"], self.markup, self.how,
            terrain_day=self.then,
        )  # fmt: skip

    def scored(self, assessed: Assessed, presence: Presence) -> dict[str, RunOdds]:
        """Return the odds of each piece, as if it were a run."""
        pieces = self.reading.layers["water"].assign(flow_label=self.label)
        pieces = gpd.GeoDataFrame(pieces.assign(run=pieces["code"]), crs=pieces.crs)
        stands = assessed.layers["stations"].assign(flow_label=self.label)
        met = presence, assessed.swept
        places = FlowPlaces.of(stands, pieces, self.label, met, self.how)
        return dict(places.scored(self.markup.plan.outing).runs)


def made_flows(names: list[str]) -> Iterator[Flow]:
    """Yield the flows of made rivers."""
    for river in rivers():
        if river.name not in names:
            continue
        ground = river.ground()
        solved = with_labels(flow.solve(ground, list(river.flows), ENGINE), UnitSystem.METRIC)
        rules = WaterSettings(limits=standard_plan().season)
        how = AnglerSettings(season=standard_plan().season.season)
        for number, label in enumerate(solved["asked"].to_numpy()):
            one = solved.isel(flow=[number])
            reading = read_water(ground, one, rules)
            yield Flow(river.name, str(label), ground, one, reading, markup_of(ground), how)


def built_flows(folder: Path, out: Path) -> Iterator[Flow]:
    """Yield some flows of a built folder, which is not solved again."""
    reach, options = read_markup(folder), stored_options(out)
    job = begin_job(reach, out, options, lambda *_: None)
    solved = solve_reach(job)
    unit = "cfs" if reach.plan.units is UnitSystem.US else "m3/s"
    labels = list(solved.rungs.labels)
    bends = water.bends_of(solved.ground, job.settings.water.bends)
    for label in (f"{one:g}{unit}" for one in BUILT_AT):
        if label not in labels:
            continue
        one = repacked(one_flow_of(solved.rungs.flow, labels.index(label)))
        reading = read_water(
            solved.ground, one, job.settings.water, bends=bends, marks=reach.structure
        )
        how = settings_for(reach, options).angler
        day = solved.terrain_day
        then = None if day is None else day[0]
        yield Flow(out.parent.name, label, solved.ground, one, reading, reach, how, then)


def compared(one: Flow, *, most: bool) -> tuple[list[dict[str, object]], Tally]:
    """Return a row for each piece fished at a flow, its odds an hour by both choices.

    With `most`, also by the best of its likely tips, found by planning it whole with each.
    """
    presence = Presence.of_dataset(one.reading.presence)
    tally = Tally()
    usual = one.scored(one.assessed(), presence)
    with chosen_by_odds(Fish.of(presence, one.how.interception), tally):
        other = one.scored(one.assessed(), presence)
    every = [usual, other]
    if most:
        for number in range(one.how.plan.tips_tried):
            with one_of_likely(number):
                every.append(one.scored(one.assessed(), presence))
    rows = [
        {"river": one.name, "flow": one.label, "piece": code, "swim": _rate(usual, code),
         "odds": _rate(other, code), "most": max(_rate(each, code) for each in every)}
        for code in sorted({*usual, *other})
    ]  # fmt: skip
    return rows, tally


def _rate(odds: dict[str, RunOdds], code: str) -> float:
    """Return the odds an hour of a piece; 0 where it is not fished."""
    return float(odds[code].rate.mean()) if code in odds else 0.0


def told(rows: pd.DataFrame, tally: Tally) -> str:
    """Return a row of the table: the groups with another tip, and what the pieces gain by it.

    Parameters
    ----------
    rows
        Of `compared`: `river`, `flow`, and the odds an hour by each choice.
    tally
        Of the same flows.
    """
    better = (rows["odds"] > (1 + LIKE) * rows["swim"]).sum()
    worse = (rows["odds"] < (1 - LIKE) * rows["swim"]).sum()
    at = ["river", "flow"]
    # each flow's pieces over its best one: levels of different flows are not compared
    top = rows.groupby(at)["swim"].transform("max")
    sums = rows[["swim", "odds", "most"]][top > 0].div(top[top > 0], axis=0).sum()
    best = rows[(rows["odds"] > 0) & (rows["swim"] > 0)].groupby(at)[["swim", "odds"]].max()
    first = np.exp(np.log(best["odds"] / best["swim"]).mean())
    order = [
        mine["swim"].corr(mine["odds"], method="spearman")
        for _, mine in rows.groupby(at)
        if len(mine) > 2
    ]
    share = 100 * tally.other / max(tally.groups, 1)
    return (
        f"{tally.groups} | {share:.0f} % | {np.exp(tally.gain / max(tally.other, 1)):.2f} | "
        f"{len(rows)} | {better} / {worse} | {sums['odds'] / sums['swim']:.2f} | {first:.2f} | "
        f"{np.nanmean(order):.2f} | {sums['most'] / sums['swim']:.2f}"
    )


LIKE = 0.02
"""Odds within this share of each other are alike."""

HEAD = (
    "| river | groups | another tip | gain at the scouts | pieces | better / worse | all pieces | "
    "best piece | rank correlation | best tip of all |"
)


def main() -> int:
    """Print a row a river, and one of all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--river", nargs="*", default=list(RIVERS))
    parser.add_argument("--built", nargs=2, type=Path, metavar=("FOLDER", "OUT"))
    parser.add_argument("--most", action="store_true", help="plan each piece with every tip too")
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args()
    flows = list(made_flows(asked.river)) if asked.river else []
    if asked.built:
        flows += built_flows(*asked.built)
    every: list[dict[str, object]] = []
    tallies: dict[str, Tally] = {}
    for one in flows:
        begun = time.process_time()
        rows, tally = compared(one, most=asked.most)
        every += rows
        held = tallies.setdefault(one.name, Tally())
        tallies[one.name] = replace(
            held, groups=held.groups + tally.groups, other=held.other + tally.other,
            gain=held.gain + tally.gain,
        )  # fmt: skip
        spent = time.process_time() - begun
        print(f"{one.name}, {one.label}: {tally}, {spent:.1f} s", flush=True)
    table = pd.DataFrame(every)
    if asked.keep:
        table.to_csv(asked.keep, index=False)
    print(HEAD)
    for name, tally in tallies.items():
        print(f"| {name} | {told(table[table['river'] == name], tally)} |")
    every_one = [
        sum(getattr(one, name) for one in tallies.values()) for name in ("groups", "other", "gain")
    ]
    print(f"| all | {told(table, Tally(*every_one))} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
