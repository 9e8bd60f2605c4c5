"""Set the score of runs and of pieces against their length, on many made rivers.

    python -m scripts.score_and_length [--river NAME ...] [--keep FILE.csv] [--write]

A score that is a length in disguise says nothing. The rivers of `scripts/score_rivers.py` are
solved on their true beds at three flows each and read as a build reads them, for an angler who
walks and owns the sample's kit, without hazards, ways in or an ensemble. Printed by kind of river
and pooled: how much of the scores' variance the length explains (R2), raw and about the means of
each river and flow; how many runs there are, and which share of all odds the first of them hold.
`--keep` stores every run and piece, in place of what the file had of these rivers; `--write` puts
the table into docs/interception.md.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from shapely import LineString

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap import angler, flow, water  # noqa: E402
from reachmap.angler import AnglerSettings  # noqa: E402
from reachmap.angler.assess import Assessed, assess_flow  # noqa: E402
from reachmap.angler.interception.density import Presence  # noqa: E402
from reachmap.angler.interception.join import FlowPlaces, Meeting  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import Part, UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings  # noqa: E402
from reachmap.markup import read_markup  # noqa: E402
from reachmap.markup.model import Markup, Plan, River  # noqa: E402
from reachmap.water import Reading, WaterSettings, read_water  # noqa: E402
from scripts.marked_page import put_between  # noqa: E402
from scripts.score_rivers import ScoreRiver, rivers  # noqa: E402

PAGE = ROOT / "docs" / "interception.md"
MARKS = "<!-- score against length: begin -->", "<!-- score against length: end -->"
ENGINE = FlowSettings(method="engine")
FIRST = 1, 2, 3
"""Of so many of the best runs the share of the odds is told."""
HOLDING = 0.8
RUN, PIECE = "run", "piece"


@cache
def standard_plan() -> Plan:
    """Return the plan of an angler with the sample's kit, in winter."""
    return read_markup(ROOT / "data_samples" / "madeup_river").plan


def markup_of(ground: xr.Dataset) -> Markup:
    """Return a drawing that holds nothing but the river's line."""
    xy = np.column_stack([ground["line_x"], ground["line_y"]])
    line = River("made", Part.MAIN, LineString(xy))
    return Markup(str(ground.attrs["crs"]), standard_plan(), (line,), ())


def read_flows(
    ground: xr.Dataset, flows: xr.Dataset, rules: WaterSettings, how: AnglerSettings
) -> Iterator[tuple[Reading, Assessed]]:
    """Yield what is read at each flow of the water, and what a person can do there."""
    markup = markup_of(ground)
    for number in range(flows.sizes["flow"]):
        one = flows.isel(flow=[number])
        reading = read_water(ground, one, rules)
        yield reading, assess_flow(ground, one, reading.layers["water"], markup, how)


def scored(river: ScoreRiver) -> pd.DataFrame:
    """Return a row for each run and each piece that can be fished at a flow of the river.

    Columns `river`, `kind`, `flow`, `of` (run or piece), `name`, `length_m`, `rate` [1/h], `score`
    over the best of that flow, 0 to 100.
    """
    ground = river.ground()
    solved = with_labels(flow.solve(ground, list(river.flows), ENGINE), UnitSystem.METRIC)
    rules = WaterSettings(limits=standard_plan().season)
    how = AnglerSettings(season=standard_plan().season.season)
    both = list(read_flows(ground, solved, rules, how))
    labels = [str(label) for label in solved["asked"].to_numpy()]
    meetings: dict[str, Meeting] = {
        label: (Presence.of_dataset(reading.presence), assessed.swept)
        for label, (reading, assessed) in zip(labels, both, strict=True)
    }
    pieces = _stacked(labels, [reading.layers["water"] for reading, _ in both])
    stands = _stacked(labels, [assessed.layers["stations"] for _, assessed in both])
    followed, runs = water.follow_runs(pieces, ground, (), rules)
    fishable = angler.fishable_runs(followed, stands)
    table = water.runs_by_flow(followed, runs, solved, rules, fishable=fishable)
    runs, table = angler.pace_runs(runs, table, followed, stands, how)
    who = standard_plan().outing
    [(table, _)] = angler.with_odds(table, followed, stands, meetings.get, [who], how)
    named = {"river": river.name, "kind": river.kind}
    fished = table[table["odds"].notna()]
    rows = [
        {
            **named, "flow": label, "of": RUN, "name": name, "length_m": length,
            "rate": rate, "score": odds,
        }
        for label, name, length, rate, odds in zip(
            *(fished[c] for c in ("flow_label", "run", "length_m", "odds_hour", "odds")),
            strict=True,
        )
    ]  # fmt: skip
    for label in labels:
        rows += [{**named, **row} for row in _pieces_at(label, followed, stands, meetings, how)]
    return pd.DataFrame(rows)


def _pieces_at(
    label: str,
    pieces: gpd.GeoDataFrame,
    stands: gpd.GeoDataFrame,
    meetings: dict[str, Meeting],
    how: AnglerSettings,
) -> Iterator[dict[str, object]]:
    """Yield a row for each piece of water that can be fished at a flow, as if each were a run."""
    alone = pieces.assign(run=pieces["code"])
    mine = stands[stands["flow_label"] == label]
    places = FlowPlaces.of(mine, alone, label, meetings[label], how)
    odds = places.scored(standard_plan().outing)
    here = pieces[pieces["flow_label"] == label].set_index("code")
    for code, one in odds.runs.items():
        rate = float(one.rate.mean())
        score = 100 * rate / odds.best if odds.best > 0 else np.nan
        length = float(here.loc[code, "length_m"])
        yield {"flow": label, "of": PIECE, "name": code, "length_m": length, "rate": rate,
               "score": score}  # fmt: skip


def _stacked(labels: list[str], frames: list[gpd.GeoDataFrame]) -> gpd.GeoDataFrame:
    """Return one layer over all flows."""
    named = [
        frame.assign(flow_label=label)
        for label, frame in zip(labels, frames, strict=True)
        if len(frame)
    ]
    if not named:
        return frames[0].assign(flow_label="")
    whole = pd.concat(named, ignore_index=True)
    return gpd.GeoDataFrame(whole, geometry="geometry", crs=frames[0].crs)


def r_squared(table: pd.DataFrame, *, within: bool) -> float:
    """Return the share of the scores' variance that a line through the lengths explains.

    Parameters
    ----------
    table
        Rows of `scored`, of one sort (runs or pieces).
    within
        About the means of each river and flow, in place of those over all rows.
    """
    length, score = (table[name].astype(float) for name in ("length_m", "score"))
    if within:
        groups = [table["river"], table["flow"]]
        length = length - length.groupby(groups).transform("mean")
        score = score - score.groupby(groups).transform("mean")
    if len(table) < 3 or min(length.std(), score.std()) <= 1e-9:
        return float("nan")
    return float(np.corrcoef(length, score)[0, 1] ** 2)


def held_by_first(table: pd.DataFrame) -> tuple[list[float], float]:
    """Return the mean share of a flow's odds that its first runs hold, and how many hold 80 %.

    Odds here are the rate an hour; flows without a run are left out.
    """
    shares, enough = [], []
    for _, here in table.groupby(["river", "flow"]):
        rates = np.sort(here["rate"].to_numpy(dtype=float))[::-1]
        if not rates.sum() > 0:
            continue
        held = np.cumsum(rates) / rates.sum()
        shares.append([float(held[min(k, held.size) - 1]) for k in FIRST])
        enough.append(int(np.searchsorted(held, HOLDING) + 1))
    if not shares:
        return [float("nan")] * len(FIRST), float("nan")
    return [float(one) for one in np.mean(shares, axis=0)], float(np.mean(enough))


def tables(rows: pd.DataFrame) -> str:
    """Return the table by kind and pooled, as Markdown."""
    lines = [
        "| rivers | at | runs | R² of runs | about means | pieces | R² of pieces | about means | "
        "held by the first 1 / 2 / 3 runs | runs for 80 % |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for name, some in [*rows.groupby("kind"), ("all", rows)]:
        parts = [some[some["of"] == of] for of in (RUN, PIECE)]
        told = []
        for part in parts:
            both = (r_squared(part, within=within) for within in (False, True))
            told += [str(len(part)), *(f"{one:.2f}" for one in both)]
        held, enough = held_by_first(parts[0])
        shares = " / ".join(f"{one:.2f}" for one in held)
        rivers_of, flows = some["river"].nunique(), len(some.groupby(["river", "flow"]))
        words = f"{name}, {rivers_of} | {flows} flows"
        lines.append(f"| {words} | {' | '.join(told)} | {shares} | {enough:.1f} |")
    return "\n".join(lines)


def merged(before: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """Return rows of both; of a river measured again those of now alone."""
    rest = before[~before["river"].isin(now["river"])]
    return pd.concat([rest, now], ignore_index=True)


def main() -> int:
    """Measure, print, and write the page if asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--river", nargs="+", help="names of some rivers; all if not given")
    parser.add_argument("--keep", type=Path, help="file for every row")
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    found = []
    for river in rivers():
        if asked.river and river.name not in asked.river:
            continue
        begun = time.process_time()
        rows = scored(river)
        told = rows.groupby("of").size().to_dict() if len(rows) else {}
        print(f"{river.name}: {told}, {time.process_time() - begun:.0f} s", flush=True)
        found.append(rows)
    every = pd.concat(found, ignore_index=True)
    if asked.keep:
        every = merged(pd.read_csv(asked.keep) if asked.keep.exists() else every, every)
        every.to_csv(asked.keep, index=False)
    text = tables(every)
    print(text)
    if asked.write:
        put_between(PAGE, MARKS, text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
