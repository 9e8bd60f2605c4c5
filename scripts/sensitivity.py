"""Screen the numbers of the stages by how far they move the map: Morris's elementary effects.

    python -m scripts.sensitivity [--trajectories N] [--seed N] [--screen [GROUP ...]]
        [--engine GROUP ...] [--ends M M] [--run] [--minutes N] [--points FILE] [--write]

`--screen` runs the stretch of `scripts/sensitivity_model.py` with each number at either end of its
range, all others at their defaults. `--run` draws Morris trajectories over those that move enough
(SALib) and keeps the effects in docs/sensitivity.csv. `--write` puts table and picture into
docs/sensitivity.md. Needs the extra `docs`. `--screen` takes ten minutes of processor time or more;
named groups (like water.lies or meeting) are screened alone, and what was found of others before is
kept. `--engine` screens groups of the water's rules on the engine's water instead of the preview's,
which draws no seam; the engine takes minutes, less on a shorter stretch (`--ends`). What `--run`
has worked out stands in `--points` line by line; started anew it goes on from there, and after
`--minutes` of processor time it takes the whole walks it has.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd
from SALib.analyze import morris as analyze_morris
from SALib.sample import morris as sample_morris

from reachmap.markup import read_markup
from scripts.sensitivity_fields import Field, find_fields
from scripts.sensitivity_model import SAMPLE, STRETCH, cut_reach, model_of, usual_settings

DOCS = Path(__file__).resolve().parent.parent / "docs"
TABLE, ENGINE_TABLE = DOCS / "sensitivity.csv", DOCS / "sensitivity-engine.csv"
LEVELS = 4
"""Levels of each number's range; Morris (1991) uses 4, from memory."""
SEED = 20
KEPT_SHARE = 0.2
"""Numbers that, alone, move each output by less than this share of the most are not run further."""
RANKED = ("waded", "soft", "order")
"""Outputs that numbers are ranked by."""

Model = Callable[[Mapping[str, float]], Mapping[str, float]]


def screen(
    model: Model,
    found: Sequence[Field],
    told: Callable[[str], None],
    *,
    keep: Callable[[pd.DataFrame], None] = lambda _: None,
) -> pd.DataFrame:
    """Return by how much each output moves with one number at an end of its range, at most.

    Parameters
    ----------
    model
        From values by path to outputs.
    found
        The numbers.
    told
        Progress callback (name).
    keep
        Called with what is found so far, after each number.

    Returns
    -------
    One row a number, index its name; columns the outputs.
    """
    usual = model({})
    rows = {}
    for one in found:
        told(one.name)
        ends = [model({one.name: end}) for end in (one.low, one.high)]
        rows[one.name] = {out: max(abs(end[out] - usual[out]) for end in ends) for out in usual}
        keep(pd.DataFrame.from_dict(rows, orient="index"))
    return pd.DataFrame.from_dict(rows, orient="index")


def movers(alone: pd.DataFrame) -> set[str]:
    """Return the numbers that move a ranked output by a fair share of what moves it most.

    `alone` is what `screen` returned, its columns headed ``alone_X``.
    """
    sizes = alone[[f"alone_{out}" for out in RANKED]]
    shares = (sizes / sizes.max()).fillna(0.0).max(axis=1)
    return set(alone.index[shares > KEPT_SHARE])


def effects(
    model: Model,
    found: Sequence[Field],
    trajectories: int,
    told: Callable[[str], None],
    *,
    seed: int = SEED,
    points: Path | None = None,
    minutes: float = np.inf,
) -> pd.DataFrame:
    """Return the elementary effects of the numbers: mean size mu*, its 95 % band, and sigma.

    Parameters
    ----------
    model, found, told
        As for `screen`.
    trajectories
        How many walks through the space of the numbers; each moves every number once.
    seed
        Of the walks.
    points
        File of the points worked out so far, a line each: read, and added to.
    minutes
        Processor time after which no point is begun; the whole walks until then count, two or more.

    Returns
    -------
    One row a number; columns ``mu_star_X``, ``band_X`` and ``sigma_X`` for each output X, in the
    output's unit over the whole range of the number.
    """
    names = [one.name for one in found]
    problem = {
        "num_vars": len(found),
        "names": names,
        "bounds": [[one.low, one.high] for one in found],
    }
    drawn = sample_morris.sample(problem, trajectories, num_levels=LEVELS, seed=seed)
    results, begun = _kept_points(points, drawn), time.process_time()
    for count, row in enumerate(drawn[len(results) :], len(results) + 1):
        if time.process_time() - begun > 60 * minutes:
            break
        told(f"{count} of {len(drawn)}")
        results.append(dict(model(dict(zip(names, row.tolist(), strict=True)))))
        if points is not None:
            with points.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"at": row.tolist(), "found": results[-1]}) + "\n")
    walks = len(results) // (len(found) + 1)
    if walks < min(2, trajectories):
        msg = f"{walks} whole walks are too few to tell effects and their spread"
        raise SystemExit(msg)
    told(f"{walks} whole walks")
    drawn, results = (one[: walks * (len(found) + 1)] for one in (drawn, results))
    outputs = pd.DataFrame(results)
    table = pd.DataFrame(index=pd.Index(names, name="number"))
    for out in outputs:
        got = analyze_morris.analyze(
            problem, drawn, outputs[out].to_numpy(), num_levels=LEVELS, seed=seed
        )
        table[f"mu_star_{out}"] = np.asarray(got["mu_star"], dtype=float)
        table[f"band_{out}"] = np.asarray(got["mu_star_conf"], dtype=float)
        table[f"sigma_{out}"] = np.asarray(got["sigma"], dtype=float)
    return table


def _kept_points(points: Path | None, drawn: np.ndarray) -> list[dict[str, float]]:
    """Return the results kept in a file, in the order of the points drawn, up to the first other.

    Points of other numbers or another seed are of no use: the file must be another then.
    """
    if points is None or not points.exists():
        return []
    rows = [json.loads(line) for line in points.read_text(encoding="utf-8").splitlines()]
    if any(one["at"] != at for one, at in zip(rows, drawn.tolist(), strict=False)):
        msg = f"{points} holds points of other walks"
        raise SystemExit(msg)
    return [one["found"] for one in rows]


def ranked(table: pd.DataFrame) -> pd.DataFrame:
    """Return the rows in turns: what moves each ranked output most, then what does so next.

    Of one turn, what moves all of them together more comes first, as shares of the most. An output
    that no walk was made for has no turn.
    """
    walked = [name for out in RANKED if (name := f"mu_star_{out}") in table]
    sizes = table[walked].fillna(0.0)
    turn = sizes.rank(ascending=False, method="min").min(axis=1)
    together = (sizes / sizes.max()).sum(axis=1)
    return table.iloc[np.lexsort((-together, turn))]


def described(found: Sequence[Field]) -> pd.DataFrame:
    """Return defaults, ranges and how each number is known, index its name."""
    rows = [
        {
            "number": one.name,
            "default": one.default,
            "low": one.low,
            "high": one.high,
            "range": "assumed" if one.assumed else "stated",
            "known": one.known,
        }
        for one in found
    ]
    return pd.DataFrame(rows).set_index("number")


def with_new(before: pd.DataFrame, told: pd.DataFrame, alone: pd.DataFrame) -> pd.DataFrame:
    """Return what a screen found in place of what an earlier one had of the same numbers.

    Parameters
    ----------
    before
        What was kept, index the number's name; empty where nothing was. Effects of walks stay until
        others are walked.
    told
        From `described`, of all numbers there are: others that were kept are dropped.
    alone
        What the screen found, columns ``alone_X``.
    """
    kept = before.drop(columns=[name for name in told if name in before])
    kept = kept.reindex(told.index[told.index.isin(kept.index.union(alone.index))])
    kept = kept.reindex(
        columns=[*alone.columns, *kept.columns.difference(alone.columns, sort=False)]
    )
    kept.loc[alone.index, list(alone.columns)] = alone
    return told.loc[kept.index].join(kept).rename_axis("number")


def main() -> None:
    """Screen, run, write, as asked."""
    parser = argparse.ArgumentParser(description="Screen the numbers of the stages (Morris).")
    parser.add_argument("--trajectories", type=int, default=10)
    parser.add_argument("--seed", type=int, default=SEED, help="of the walks")
    parser.add_argument(
        "--screen",
        nargs="*",
        metavar="NAME",
        help="each number alone, at both ends; some groups or numbers where any is named",
    )
    parser.add_argument("--engine", nargs="+", metavar="NAME", help="groups, on the engine's water")
    parser.add_argument(
        "--ends", nargs=2, type=float, default=STRETCH, help="stations of the stretch's ends [m]"
    )
    parser.add_argument("--run", action="store_true", help="Morris trajectories")
    parser.add_argument("--minutes", type=float, default=np.inf, help="processor time of the walks")
    parser.add_argument("--points", type=Path, help="keeps what the walks found, to go on from")
    parser.add_argument("--write", action="store_true", help="table and picture into the docs")
    asked = parser.parse_args()
    reach = cut_reach(read_markup(SAMPLE), asked.ends)
    found, _ = find_fields(usual_settings(reach))
    if any((asked.screen is not None, asked.engine, asked.run)):
        os.nice(10)
    if asked.screen is not None:
        before = pd.read_csv(TABLE, index_col="number") if asked.screen else pd.DataFrame()

        def keep(alone: pd.DataFrame) -> None:
            kept = with_new(before, described(found), alone.rename(columns="alone_{}".format))
            kept.to_csv(TABLE, float_format="%.6g")

        screen(model_of(reach), _named(found, asked.screen) or found, _timed(), keep=keep)
    if asked.engine:

        def keep_engine(alone: pd.DataFrame) -> None:
            alone.rename_axis("number").to_csv(ENGINE_TABLE, float_format="%.6g")

        some = _named(found, asked.engine)
        screen(model_of(reach, "engine"), some, _timed(), keep=keep_engine)
    if asked.run:
        kept = pd.read_csv(TABLE, index_col="number")
        kept = kept.loc[:, ~kept.columns.str.match("mu_star_|band_|sigma_")]
        chosen = [one for one in found if one.name in movers(kept)]
        table = effects(
            model_of(reach),
            chosen,
            asked.trajectories,
            _timed(),
            seed=asked.seed,
            points=asked.points,
            minutes=asked.minutes,
        )
        ranked(kept.join(table)).to_csv(TABLE, float_format="%.6g")
    if asked.write:
        from scripts.sensitivity_page import write_page

        write_page(ranked(pd.read_csv(TABLE, index_col="number")))


def _named(found: Sequence[Field], names: Sequence[str]) -> list[Field]:
    """Return the numbers of these names, or of groups of these names, in that order."""
    return [one for name in names for one in found if f"{one.name}.".startswith(f"{name}.")]


def _timed() -> Callable[[str], None]:
    """Return a progress callback that prints what begins and the processor time so far."""
    begun = time.process_time()
    return lambda name: print(f"{time.process_time() - begun:7.1f} s  {name}", flush=True)


if __name__ == "__main__":
    main()
