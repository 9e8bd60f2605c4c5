"""Measure what each kind of evidence buys on made rivers; write the table of docs/uncertainty.md.

    python -m scripts.measure_yardstick [--draws 4] [--first 1] [--keep FILE.csv] [--write]

Made rivers of bends with low benches, whose bed, roughness and flows are as uneven as those of
measured sections (`scripts/spread_cases.py`) and whose brush, grass and channel are rougher or
smoother than their class says, drawn from the doubt that the product has of them. Each is mapped by
the 2-D engine from growing evidence and judged by the engine on the true river: overlap of soft
water cell by cell and within 4 m, Brier skill of its odds, distance of the edge, and how often the
truth lies within the stated spreads. Each row is added to the file of `--keep` as it is made;
`--write` puts the means of that file between the marks of the page.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from reachmap.ground.fit import fit  # noqa: E402
from reachmap.ground.scaling import scaled  # noqa: E402
from reachmap.markup.model import Markup, Track  # noqa: E402
from reachmap.pipeline.ensemble import weigh  # noqa: E402
from reachmap.pipeline.fitted import StoredFit  # noqa: E402
from reachmap.pipeline.terrain import cover_factors  # noqa: E402
from reachmap.water.edges import edge_layers  # noqa: E402
from scripts.fit_cases import as_doubted, benched, rougher, timed  # noqa: E402
from scripts.ground_cases import SETTINGS, Case, with_sight, with_soundings  # noqa: E402
from scripts.marked_page import put_between  # noqa: E402
from scripts.measure_given import Surveyor  # noqa: E402
from scripts.measure_ground import Truth, edge_points  # noqa: E402
from scripts.measure_spread import (  # noqa: E402
    brier_skill,
    cells,
    held_shares,
    near_overlap,
    overlap,
    settings_of,
)
from scripts.spread_cases import ENGINE, made_uneven, true_water  # noqa: E402

PAGE = ROOT / "docs" / "uncertainty.md"
MARKS = "<!-- yardstick: begin -->", "<!-- yardstick: end -->"
LENGTH_M = 800.0
FLOWS = ("low", "middle", "high")
STICKS = 10


@dataclass(frozen=True)
class Given:
    """What an angler gives: its name, the drawing, whether with the terrain model, whether fitted.

    `bed` is the word for the stones, "" for none.
    """

    name: str
    markup: Markup
    with_dem: bool = True
    fitted: bool = False


@dataclass(frozen=True)
class River:
    """A made river with its truth: `water` holds the three flows that ran."""

    case: Case
    truth: xr.Dataset
    water: xr.Dataset


def river(seed: int) -> River:
    """Return a made river of benches, uneven, each cover as rough as its doubt draws."""
    case = benched(seed, LENGTH_M, SETTINGS.cell)
    made = build_ground(case.markup, case.dem, SETTINGS)
    case = replace(case, roughness=rougher(made, as_doubted(seed)))
    uneven, truth, ran = made_uneven(case, seed)
    water = true_water(truth, (0.75 * ran[0], *ran), ENGINE)
    seen = with_sight(uneven, truth, water.isel(flow=[0, 2, 3]), 0.75 * case.flows[0])
    return River(seen, truth, water.isel(flow=[1, 2, 3]))


def evidence(one: River, seed: int) -> Iterator[Given]:
    """Yield what the angler gives, from little to much."""
    case, rng = one.case, np.random.default_rng(seed)
    bare = replace(case.markup, soundings=())
    made = build_ground(bare, case.dem, SETTINGS)
    sounded = with_soundings(case, one.truth, one.water, 25)
    high = one.water.isel(flow=2)
    sticks = timed(one.truth, made, high, case.flows[2], STICKS, rng)
    tracks = drives(one)
    said = replace(bare, plan=replace(bare.plan, slope=case.slope))
    yield Given("edges at three flows", said, with_dem=False)
    yield Given("terrain model", bare)
    yield Given("25 soundings", sounded)
    yield Given("25 soundings, 10 sticks", replace(sounded, speeds=sticks), fitted=True)
    both = replace(bare, tracks=tracks, speeds=sticks)
    yield Given("two tracks, 10 sticks", both, fitted=True)
    stony = replace(both, plan=replace(both.plan, bed="cobble"))
    yield Given("the same, `bed` said", stony, fitted=True)


def drives(one: River) -> tuple[Track, ...]:
    """Return two lengthwise drives of an echo sounder at the low flow, as the gauge read it."""
    surveyor = Surveyor(one.case, Truth(one.truth, one.water, []))
    return tuple(replace(track, flow=one.case.flows[0]) for track in surveyor.tracks(2))


def mapped(one: River, given: Given) -> tuple[xr.Dataset, xr.Dataset, xr.Dataset]:
    """Return ground, flow and doubt Datasets of a map made from what is given."""
    ground = build_ground(given.markup, one.case.dem if given.with_dem else None, SETTINGS)
    kept = None
    if given.fitted:
        found = fit(ground, given.markup, partial(solve, settings=FlowSettings()), SETTINGS)
        ground = scaled(ground, found.roughness, found.depth, SETTINGS, cover_factors(found))
        kept = StoredFit(found, "")
    water = with_labels(solve(ground, list(one.case.flows), ENGINE), UnitSystem.METRIC)
    doubt = weigh(given.markup, ground, water, settings_of(given.markup), kept)
    return ground, water, doubt


def figures(table: pd.DataFrame) -> dict[str, float]:
    """Return the figures of the cells of one map at one flow."""
    both = table[table.depth.notna() & (table.true_depth > 0)]
    found = {
        f"{what}_rms": float(np.sqrt(np.nanmean((both[f"true_{what}"] - both[what]) ** 2)))
        for what in ("depth", "speed")
    }
    for what in ("depth", "speed"):
        found[f"{what}_1"], found[f"{what}_2"] = held_shares(table, what)
    return found | {
        "overlap": overlap(table.soft, table.true_soft),
        "near": near_overlap(table),
        "brier": brier_skill(table),
    }


def edge_off(one: River, ground: xr.Dataset, water: xr.Dataset, number: int) -> float:
    """Return the median distance of the mapped edge from the true one at a flow [m]."""
    rim = edge_layers(one.truth, one.water.isel(flow=[number]))["wetted"].geometry.boundary
    places = edge_points(ground, water.isel(flow=[number]))
    return float(np.median(places.distance(rim.union_all()).to_numpy()))


def measured(seed: int, only: str, folder: Path | None) -> Iterator[dict[str, object]]:
    """Yield the figures of one river, for each evidence and flow."""
    one = river(seed)
    for given in evidence(one, seed):
        if only not in given.name:
            continue
        ground, water, doubt = mapped(one, given)
        for number, name in enumerate(FLOWS):
            at = {"flow": number}
            table = cells(ground, water.isel(at), doubt.isel(at), one.water.isel(at))
            if folder is not None:
                name_of = f"{seed}-{given.name}-{name}.csv.gz".replace(" ", "_")
                table.round(4).to_csv(folder / name_of, index=False)
            edge = edge_off(one, ground, water, number)
            named = {"seed": seed, "given": given.name, "flow": name}
            yield named | figures(table) | {"edge": edge}


def page(kept: pd.DataFrame) -> str:
    """Return the table of the page: means over the draws."""
    rows = [
        "| given beside the drawing | flow | overlap | within 4 m | Brier skill | edge m | "
        "depth, speed rms | depth within 1 / 2 % | speed within 1 / 2 % |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    mean = kept.drop(columns="seed").groupby(["given", "flow"], sort=False).mean().reset_index()
    for one in mean.itertuples():
        shares = [100 * getattr(one, f"{what}_{k}") for what in ("depth", "speed") for k in (1, 2)]
        rows.append(
            f"| {one.given} | {one.flow} | {one.overlap:.2f} | {one.near:.2f} | {one.brier:+.2f} | "
            f"{one.edge:.1f} | {one.depth_rms:.2f}, {one.speed_rms:.2f} | "
            f"{shares[0]:.0f} / {shares[1]:.0f} | {shares[2]:.0f} / {shares[3]:.0f} |"
        )
    return "\n".join(rows)


def main() -> None:
    """Measure, keep, and write the page where asked."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--draws", type=int, default=4, help="0 with --write: only write the page")
    words.add_argument("--first", type=int, default=1)
    words.add_argument("--only", default="", help="evidence whose name holds this text")
    words.add_argument("--keep", type=Path, required=True, help="rows are added to this CSV file")
    words.add_argument("--cells", type=Path, help="folder for every cell's values")
    words.add_argument("--write", action="store_true")
    asked = words.parse_args()
    if asked.cells is not None:
        asked.cells.mkdir(parents=True, exist_ok=True)
    for seed in range(asked.first, asked.first + asked.draws):
        for row in measured(seed, asked.only, asked.cells):
            pd.DataFrame([row]).to_csv(
                asked.keep, mode="a", header=not asked.keep.exists(), index=False
            )
            print(
                {k: round(v, 3) if isinstance(v, float) else v for k, v in row.items()}, flush=True
            )
    kept = pd.read_csv(asked.keep)
    print(page(kept))
    if asked.write:
        put_between(PAGE, MARKS, page(kept))


if __name__ == "__main__":
    main()
