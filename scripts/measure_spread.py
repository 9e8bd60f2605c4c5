"""Count how often the true depth and speed lie within the stated spreads.

    python -m scripts.measure_spread [--real FILE.csv] [--keep FOLDER] [--quick]

Made rivers with beds, roughness and flows as untidy as real ones (`scripts/spread_cases.py`), each
mapped from growing evidence; and, where a file is given, every other sounding of real sections kept
back (its columns: see `scripts/measure_real_sections.py`). Printed by river, evidence and flow: the
share of places whose truth lies within one and two stated spreads (68 and 95 % where the spread is
honest), the overlap of soft water and the Brier skill of its odds. `--keep` writes every place's
values to a folder for a closer look.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr
from scipy.ndimage import binary_dilation

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow import solve  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from reachmap.markup.model import Markup  # noqa: E402
from reachmap.pipeline.ensemble import weigh  # noqa: E402
from reachmap.pipeline.settings import Settings, settings_for  # noqa: E402
from reachmap.pipeline.stamp import Options  # noqa: E402
from reachmap.uncertainty import UncertaintySettings  # noqa: E402
from reachmap.uncertainty.confidence import means_of, owners_of  # noqa: E402
from reachmap.uncertainty.model_error import ModelError  # noqa: E402
from reachmap.water import WaterSettings, read_water  # noqa: E402
from reachmap.water.settings import CorridorSettings  # noqa: E402
from scripts.ground_cases import SETTINGS, Case, variants  # noqa: E402
from scripts.measure_real_sections import _places, drawn, reaches  # noqa: E402
from scripts.spread_cases import ENGINE, real_like, rivers, true_water  # noqa: E402

WATER = WaterSettings(corridor=CorridorSettings(fish=1))
"""Rules of the reading; one fish, since the corridor has no part in what is judged."""

SOFT = WATER.limits
EVIDENCE = ("edges only", "DEM", "DEM + 25 soundings")
NEAR_M = 4.0
"""An angler's own tolerance when two maps of soft water are compared [m]."""
ENDS_WIDTHS = 1.0


DOUBT = [UncertaintySettings()]
"""Settings of the ensemble, as asked on the command line."""


def settings_of(markup: Markup) -> Settings:
    """Return a build's settings with the engine and this script's season."""
    told = settings_for(markup, Options())
    return replace(told, ground=SETTINGS, flow=ENGINE, water=WATER, uncertainty=DOUBT[0])


def soft(depth: np.ndarray, speed: np.ndarray) -> np.ndarray:
    """Return where water is soft."""
    with np.errstate(invalid="ignore"):
        deep = (depth >= SOFT.depth_low_m) & (depth <= SOFT.depth_high_m)
        return deep & (speed >= SOFT.speed_low_m_s) & (speed <= SOFT.speed_high_m_s)


def speed_of(water: xr.Dataset) -> np.ndarray:
    """Return speeds, NaN where not wet, (y, x)."""
    return np.hypot(water["east_speed"], water["north_speed"]).to_numpy()


def tables(case: Case, seed: int, wanted: str) -> Iterator[pd.DataFrame]:
    """Yield for each evidence a table of the cells of a river made uneven, at all its flows."""
    one, truth, ran = real_like(case, seed)
    water = true_water(truth, ran)
    for name, markup, use_dem in variants(one, truth, water):
        if name not in EVIDENCE or wanted not in name:
            continue
        ground = build_ground(markup, one.dem if use_dem else None, SETTINGS)
        made = with_labels(solve(ground, list(one.flows), ENGINE), UnitSystem.METRIC)
        doubt = weigh(markup, ground, made, settings_of(markup), None)
        for number in range(len(ran)):
            at = {"flow": number}
            table = cells(ground, made.isel(at), doubt.isel(at), water.isel(at))
            named = {"river": case.name, "seed": seed, "given": name, "flow": number}
            PIECES.append(pieces_of((ground, made, doubt), (truth, water), number).assign(**named))
            yield table.assign(**named)


PIECES: list[pd.DataFrame] = []
"""Pieces of water with what the ensemble says of each, and whether they are there in truth."""


def pieces_of(
    mapped: tuple[xr.Dataset, xr.Dataset, xr.Dataset],
    true: tuple[xr.Dataset, xr.Dataset],
    number: int,
) -> pd.DataFrame:
    """Return the pieces read at a flow: mean odds, score, size, and whether half of each is true.

    `mapped` are ground, flow and doubt Datasets, `true` ground and flow.
    """
    ground, made, doubt = mapped
    one, spread = made.isel(flow=[number]), doubt.isel(flow=number)
    water = read_water(ground, one, WATER).layers["water"]
    real = read_water(true[0], true[1].isel(flow=[number]), WATER).layers["water"]
    owner, count = owners_of(water, one), len(water)
    means = {
        name: means_of(spread[name].to_numpy(), owner, count)
        for name in ("suits_chance", "agreement")
    }
    share = water.geometry.intersection(real.geometry.union_all()).area / water.geometry.area
    width = Centreline.of(ground).median_width
    return pd.DataFrame(
        means
        | {
            "score": water["score"].to_numpy(),
            "size": (water.geometry.area / width**2).to_numpy(),
            "kind": water["kind"].astype(str).to_numpy(),
            "there": (share >= 0.5).to_numpy(),
        }
    )


def cells(
    ground: xr.Dataset, made: xr.Dataset, doubt: xr.Dataset, true: xr.Dataset
) -> pd.DataFrame:
    """Return the cells that are wet on the map or in truth, a width away from head and foot."""
    depth, true_depth = made["depth"].to_numpy(), true["depth"].to_numpy()
    station = ground["station"].to_numpy()
    line, width = ground["line_station"].to_numpy(), float(np.nanmedian(ground["line_width"]))
    rim = ENDS_WIDTHS * width
    inside = (station > line[0] + rim) & (station < line[-1] - rim)
    known = inside & np.isfinite(ground["bed"].to_numpy())
    use = known & (np.isfinite(depth) | np.isfinite(true_depth))
    mine, theirs = soft(depth, speed_of(made)), soft(true_depth, speed_of(true))
    disc = np.hypot(*np.mgrid[-2:3, -2:3]) * SETTINGS.cell <= NEAR_M
    fields = {
        "depth": depth,
        "speed": speed_of(made),
        "true_depth": np.nan_to_num(true_depth),
        "true_speed": np.nan_to_num(speed_of(true)),
        "depth_spread": doubt["depth_spread"].to_numpy(),
        "speed_spread": doubt["speed_spread"].to_numpy(),
        "suits_chance": doubt["suits_chance"].to_numpy(),
        "wet_chance": doubt["wet_chance"].to_numpy(),
        "confidence": ground["confidence"].to_numpy(),
        "soft": mine,
        "true_soft": theirs,
        "soft_near": binary_dilation(mine, disc),
        "true_soft_near": binary_dilation(theirs, disc),
    }
    return pd.DataFrame({name: values[use] for name, values in fields.items()})


def real_tables(path: Path, bed: str) -> Iterator[pd.DataFrame]:
    """Yield for each short reach of real sections the places whose sounding was kept back."""
    survey = pd.read_csv(path)
    for number, sections in enumerate(reaches(survey)):
        odd = [np.arange(len(one)) % 2 == 1 for one in sections]
        for used in (odd, [~one for one in odd]):
            markup = drawn(sections, used, bed)
            ground = build_ground(markup, None, SETTINGS)
            flow = [markup.plan.traced_flow]
            made = with_labels(solve(ground, flow, ENGINE), UnitSystem.METRIC)
            doubt = weigh(markup, ground, made, settings_of(markup), None)
            held = pd.concat(sections)[~np.concatenate(used)]
            yield at_places(ground, made.isel(flow=0), doubt.isel(flow=0), held).assign(
                river=f"real {number + 1}", seed=0, given="every other sounding", flow=0
            )


def at_places(
    ground: xr.Dataset, made: xr.Dataset, doubt: xr.Dataset, held: pd.DataFrame
) -> pd.DataFrame:
    """Return what the map says at measured places, beside what was measured."""
    x, y = (xr.DataArray(one, dims="place") for one in _places(held).T)

    def at(field: xr.DataArray) -> np.ndarray:
        return field.sel(x=x, y=y, method="nearest").to_numpy()

    depth = at(made["depth"])
    speed = np.hypot(at(made["east_speed"]), at(made["north_speed"]))
    true_depth, true_speed = held.depth_m.to_numpy(), held.speed_m_s.to_numpy()
    mine, theirs = soft(depth, speed), soft(true_depth, true_speed)
    return pd.DataFrame(
        {
            "depth": depth,
            "speed": speed,
            "true_depth": true_depth,
            "true_speed": true_speed,
            **{
                name: at(doubt[name])
                for name in ("depth_spread", "speed_spread", "suits_chance", "wet_chance")
            },
            "confidence": at(ground["confidence"]),
            "soft": mine,
            "true_soft": theirs,
            "soft_near": mine,
            "true_soft_near": theirs,
        }
    )


def held_shares(table: pd.DataFrame, what: str) -> tuple[float, float]:
    """Return the shares of places whose truth lies within one and two stated spreads."""
    off = (table[f"true_{what}"] - table[what]).abs() / table[f"{what}_spread"].clip(lower=1e-3)
    off = off[table.depth.notna() & table[f"{what}_spread"].notna() & (table.true_depth > 0)]
    return float((off <= 1).mean()), float((off <= 2).mean())


def overlap(one: pd.Series, other: pd.Series) -> float:
    """Return shared over joint area."""
    return float((one & other).sum() / max((one | other).sum(), 1))


def near_overlap(table: pd.DataFrame) -> float:
    """Return the mean of the shares of each map's soft water that lies near the other's."""
    shares = (
        (table.soft & table.true_soft_near).sum() / max(table.soft.sum(), 1),
        (table.true_soft & table.soft_near).sum() / max(table.true_soft.sum(), 1),
    )
    return float(np.mean(shares))


def brier_skill(table: pd.DataFrame) -> float:
    """Return the Brier skill of the odds of soft water over its mean share (Brier 1950)."""
    chance = table.suits_chance.fillna(0.0)
    usual = table.true_soft.mean()
    score = ((chance - table.true_soft) ** 2).mean()
    return float(1 - score / max(((usual - table.true_soft) ** 2).mean(), 1e-9))


def figures(table: pd.DataFrame) -> str:
    """Return the figures of some places as cells of a table."""
    shares = [f"{100 * one:.0f}" for what in ("depth", "speed") for one in held_shares(table, what)]
    both = table[table.depth.notna() & (table.true_depth > 0)]
    rms = [
        float(np.sqrt(np.nanmean((both[f"true_{what}"] - both[what]) ** 2)))
        for what in ("depth", "speed")
    ]
    return (
        f"{len(table)} | {rms[0]:.2f} | {rms[1]:.2f} | {shares[0]} / {shares[1]} | "
        f"{shares[2]} / {shares[3]} | {overlap(table.soft, table.true_soft):.2f} | "
        f"{near_overlap(table):.2f} | {brier_skill(table):+.2f}"
    )


HEAD = (
    "| river | given | flow | places | depth rms m | speed rms m/s | depth within 1 / 2 | "
    "speed within 1 / 2 | overlap | within 4 m | Brier skill |"
)


def main() -> None:
    """Print the table."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--real", type=Path)
    words.add_argument("--bed", default="cobble", help='word for its stones, "" for none')
    words.add_argument("--keep", type=Path)
    words.add_argument("--quick", action="store_true", help="the first river only")
    words.add_argument("--only", default="", help="evidence whose name holds this text")
    words.add_argument("--seeds", type=int, default=1)
    words.add_argument("--first", type=int, default=1, help="first seed")
    words.add_argument("--members", type=int, default=UncertaintySettings().members)
    words.add_argument("--bare", action="store_true", help="no error of the flow model")
    asked = words.parse_args()
    model = ModelError(0.0, 0.0, 0.0) if asked.bare else ModelError()
    DOUBT[0] = replace(DOUBT[0], members=asked.members, model=model)
    print(HEAD)
    print("|---|---|---|---|---|---|---|---|---|---|---|")
    sources = [] if asked.real is None else [real_tables(asked.real, asked.bed)]
    for seed in range(asked.first, asked.first + asked.seeds):
        made = islice(rivers(), 1 if asked.quick else None)
        sources.extend(tables(case, seed, asked.only) for case in made)
    for source in sources:
        for table in source:
            first = table.iloc[0]
            name = f"| {first.river} {first.seed} | {first.given} | {first.flow}"
            print(f"{name} | {figures(table)} |", flush=True)
            if asked.keep is not None:
                asked.keep.mkdir(parents=True, exist_ok=True)
                name = "-".join(str(first[one]) for one in ("river", "seed", "given", "flow"))
                if PIECES:
                    pd.concat(PIECES).to_csv(asked.keep / "pieces.csv", index=False)
                table.to_csv(asked.keep / f"{name.replace(' ', '_')}.csv.gz", index=False)


if __name__ == "__main__":
    main()
