"""Count how often the true rank of a run lies within the span that the map prints.

    python -m scripts.measure_ranks --keep FOLDER [--river NAME ...] [--seeds 1 2] [--write]

Made rivers with beds, roughness and gauges as untidy as real ones (`scripts/rank_cases.py`) are
read from what an angler gives and as they are. The truth of a run is the odds of the same water on
the true bed at the flow that truly ran, by each of the seven readings of the fish, with the water's
own numbers as shipped and as drawn from their ranges. Printed by evidence: how often the true rank
lies within the span, how wide spans are, and whether what is called equal is; by spans of the
readings alone, as they were first, and by those that hold the map's doubt, fitted to the other
rivers. A river measured before is read from FOLDER. `--write` puts the table into
docs/interception.md.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.optimize import minimize_scalar

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.angler.interception.ranks import overlapping, rank_spans  # noqa: E402
from reachmap.angler.interception.settings import RankSettings  # noqa: E402
from reachmap.flow import FlowSettings  # noqa: E402
from scripts.marked_page import put_between  # noqa: E402
from scripts.rank_cases import DRAWS, EVIDENCE, READINGS, cases, rows  # noqa: E402
from scripts.spread_cases import ENGINE  # noqa: E402

PAGE = ROOT / "docs" / "interception.md"
MARKS = "<!-- ranks against the truth: begin -->", "<!-- ranks against the truth: end -->"
EVEN = 1.15
"""Factor within which spans of the readings alone called odds equal."""
MAP = [f"map_{m}" for m in range(READINGS)]
TRUE = [f"true_{k}_{m}" for k in range(DRAWS + 1) for m in range(READINGS)]
GROUP = ["river", "seed", "given", "flow"]
FITTED = ("log_sd", "gone_one")
SPREADS = tuple(round(0.1 * k, 1) for k in range(2, 13))
WANTED = 0.85
"""Share of true ranks that is sought inside."""
Law = tuple[str, Callable[[pd.DataFrame, str], tuple[np.ndarray, np.ndarray]]]


def measured(
    folder: Path, names: Sequence[str], seeds: Sequence[int], by: FlowSettings
) -> pd.DataFrame:
    """Return the rows of some rivers, those measured before from their files."""
    every = cases()
    found = []
    for seed in seeds:
        for name in names or every:
            path = folder / f"{name.replace(' ', '_').replace(',', '')}-{seed}.csv"
            if not path.exists():
                kind, make = every[name]
                begun = time.process_time()
                parts = list(rows(make(), kind, seed, EVIDENCE, by))
                took = time.process_time() - begun
                print(f"{name} {seed}: {sum(map(len, parts))} runs, {took:.0f} s", flush=True)
                if not parts:
                    continue
                pd.concat(parts).to_csv(path, index=False)
            found.append(pd.read_csv(path))
    return pd.concat(found, ignore_index=True)


def fitted(table: pd.DataFrame) -> RankSettings:
    """Return the settings that serve some rivers: chance of being gone, then spread of the odds.

    The one by maximum likelihood over all runs and truths; the other the one of `SPREADS` with
    which the share of true ranks inside is nearest to `WANTED`.
    """
    gone = (table[TRUE].to_numpy() <= 0).ravel()
    root = np.repeat(np.sqrt(table["places"].to_numpy()), len(TRUE))

    def unlikely(one: float) -> float:
        chance = np.clip(one**root, 1e-9, 1 - 1e-9)
        return -float(np.log(np.where(gone, chance, 1 - chance)).sum())

    usual = RankSettings(draws=100)
    told = replace(usual, gone_one=float(minimize_scalar(unlikely, bounds=(0.01, 0.99)).x))
    each = [replace(told, log_sd=one) for one in SPREADS]
    held = [pd.DataFrame(judged(table, ("", partial(with_doubt, told=one)))) for one in each]
    off = [abs(one["held"].mean() - WANTED) for one in held]
    return replace(each[int(np.argmin(off))], draws=RankSettings().draws)


def with_doubt(here: pd.DataFrame, _: str, told: RankSettings) -> tuple[np.ndarray, np.ndarray]:
    """Return spans of ranks with the map's doubt, (runs,) each."""
    got = rank_spans(here[MAP].to_numpy(), here["places"].to_numpy().astype(np.int32), told)
    return got.low, got.high


def of_readings(here: pd.DataFrame, _: str) -> tuple[np.ndarray, np.ndarray]:
    """Return spans of ranks over the readings of the fish alone, (runs,) each."""
    rates = here[MAP].to_numpy()
    ahead = rates[None] > EVEN * rates[:, None]
    level = rates[None] * EVEN >= rates[:, None]
    return 1 + ahead.sum(axis=1).min(axis=1), level.sum(axis=1).max(axis=1)


def judged(table: pd.DataFrame, spans: Law) -> Iterator[dict[str, object]]:
    """Yield for each river, evidence and flow how its spans held, as sums over truths."""
    for key, here in table.groupby(GROUP):
        count = len(here)
        if count < 2:
            continue
        low, high = spans[1](here, str(key[0]))
        rates = here[MAP].mean(axis=1).to_numpy()
        equal = overlapping(low, high)[np.triu_indices(count, 1)]
        first, last = np.triu_indices(count, 1)
        mapped = rates[first] > rates[last]
        for name in TRUE:
            true = here[name].to_numpy()
            rank = (-true).argsort(kind="stable").argsort() + 1
            agrees = (true[first] > true[last]) == mapped
            yield {
                **dict(zip(GROUP, key, strict=True)), "law": spans[0], "runs": count,
                "held": ((rank >= low) & (rank <= high)).mean(),
                "width": (high - low).mean() / (count - 1),
                "equal": equal.mean(),
                "equal_agrees": agrees[equal].mean() if equal.any() else np.nan,
                "apart_agrees": agrees[~equal].mean() if not equal.all() else np.nan,
                "first": float(low[rank == 1].min() == 1),
            }  # fmt: skip


def _by_river(
    here: pd.DataFrame, river: str, told: Mapping[str, RankSettings]
) -> tuple[np.ndarray, np.ndarray]:
    """Return spans with the doubt fitted without a river."""
    return with_doubt(here, river, told[river])


def tabled(table: pd.DataFrame) -> tuple[str, RankSettings]:
    """Return the table as Markdown, and the settings fitted to all rivers."""
    every = table["river"].unique()
    told = {river: fitted(table[table["river"] != river]) for river in every}
    doubted = partial(_by_river, told=told)
    laws = (("readings alone", of_readings), ("with the map's doubt", doubted))
    rows_of = pd.DataFrame([one for law in laws for one in judged(table, law)])
    lines = [
        "| given | spans | flows | runs a flow | true rank inside | width over all ranks | "
        "pairs called equal | of them in the map's order | of the others |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for (given, law), some in rows_of.groupby(["given", "law"], sort=False):
        flows = some.drop_duplicates(GROUP)
        means = some[["held", "width", "equal", "equal_agrees", "apart_agrees"]].mean()
        shares = " | ".join("-" if np.isnan(one) else f"{100 * one:.0f} %" for one in means)
        lines.append(f"| {given} | {law} | {len(flows)} | {flows['runs'].mean():.1f} | {shares} |")
    each = rows_of[rows_of["law"] == laws[1][0]].groupby("river")["held"].mean()
    print("by river:", {name: round(float(one), 2) for name, one in each.items()})
    print("left out:", {n: [round(getattr(s, f), 2) for f in FITTED] for n, s in told.items()})
    return "\n".join(lines), fitted(table)


def main() -> int:
    """Measure, print, and write the page if asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--keep", type=Path, required=True, help="folder of a file for each river")
    parser.add_argument("--river", nargs="+", default=[])
    parser.add_argument("--seeds", type=int, nargs="+", default=[1])
    parser.add_argument("--kept", action="store_true", help="only what was measured before")
    parser.add_argument("--quick", action="store_true", help="solve by the preview")
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    asked.keep.mkdir(parents=True, exist_ok=True)
    if asked.kept:
        table = pd.concat([pd.read_csv(path) for path in sorted(asked.keep.glob("*.csv"))])
    else:
        table = measured(
            asked.keep, asked.river, asked.seeds, FlowSettings() if asked.quick else ENGINE
        )
    text, best = tabled(table)
    print(text)
    print("fitted to all:", {name: round(getattr(best, name), 3) for name in FITTED})
    if asked.write:
        put_between(PAGE, MARKS, text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
